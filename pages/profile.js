import { byId } from './dom.js'
import { measure, measures, numeric } from './numbers.js'
import { readStages, WAYS } from './stages.js'

/** @param {string} id */
const text = (id) => byId(id, HTMLInputElement).value.trim()
/** @param {string} id */
const choice = (id) => byId(id, HTMLSelectElement).value

/**
 * The chosen value of a group of radio buttons.
 * @param {HTMLFormElement} form
 * @param {string} name
 */
export const chosen = (form, name) => String(new FormData(form).get(name))

/** @param {string} lengthUnit */
function tire(lengthUnit) {
  const by = choice('tireBy')
  switch (by) {
    case 'size': {
      const wear = text('wear')
      return { size: text('size'), ...(wear === '' ? {} : { wear: measure(lengthUnit, wear) }) }
    }
    case 'turns':
      return { turns: measure(choice('turnsPer'), text('turns'), text('turnsUncertainty')) }
    default:
      return { [by]: measure(lengthUnit, text(by), text(`${by}Uncertainty`)) }
  }
}

/** @returns {Array<Record<string, unknown>>} */
function stages() {
  return readStages().map(({ way, values }) => {
    /** @type {Record<string, unknown>} */
    const stage = { kind: WAYS[way]?.kind }
    for (const [place, given] of Object.entries(values)) {
      const [outer = '', inner] = place.split('/')
      const value = numeric(given.trim())
      stage[outer] = inner === undefined ? value : { .../** @type {object} */ (stage[outer]), [inner]: value }
    }
    return stage
  })
}

/** @param {string} speedUnit */
function head(speedUnit) {
  const dialMax = text('dialMax')
  const scalePercent = text('scalePercent')
  const scalePercentUncertainty = text('scalePercentUncertainty')
  const offset = text('offset')
  const offsetUncertainty = text('offsetUncertainty')
  return {
    input: choice('input'),
    constant: measure(choice('constantPer'), text('constant'), text('constantUncertainty')),
    unit: speedUnit,
    ...(dialMax === '' ? {} : { dialMax: measure(speedUnit, dialMax) }),
    ...(scalePercent === '' ? {} : { scalePercent: numeric(scalePercent) }),
    ...(scalePercentUncertainty === '' ? {} : { scalePercentPlusMinus: numeric(scalePercentUncertainty) }),
    ...(offset === '' && offsetUncertainty === ''
      ? {}
      : { offset: measure(speedUnit, offset, offsetUncertainty) }),
  }
}

/**
 * The vehicle profile from the form, including invalid entries.
 * @param {HTMLFormElement} form
 */
export function profileOf(form) {
  const speedUnit = chosen(form, 'speedUnit')
  const fitted = tire(chosen(form, 'lengthUnit'))
  const topSpeed = text('topSpeed')
  const speeds = measures(speedUnit, text('speeds'))
  return {
    name: text('name'),
    tires: { front: fitted, rear: fitted },
    paths: [{ name: 'speedometer', axle: choice('axle'), stages: stages(), head: head(speedUnit) }],
    rule: choice('rule'),
    ...(topSpeed === '' ? {} : { topSpeed: measure(speedUnit, topSpeed) }),
    ...(speeds.length === 0 ? {} : { speeds }),
  }
}
