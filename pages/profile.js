import { byId } from './dom.js'
import { readStages } from './stages.js'

/** @param {string} id */
const text = (id) => byId(id, HTMLInputElement).value.trim()
/** @param {string} id */
const choice = (id) => byId(id, HTMLSelectElement).value

/**
 * Text as the number it writes. Anything else stays text: the service says what is wrong with it, and where.
 * @param {string} given
 */
const numeric = (given) => (/^-?(\d+\.?\d*|\.\d+)$/.test(given) ? Number(given) : given)

/**
 * A measure, keyed by its unit, with its doubt where one is given.
 * @param {string} unit
 * @param {string} value
 * @param {string} [doubt]
 */
function measure(unit, value, doubt = '') {
  return { [unit]: numeric(value), ...(doubt === '' ? {} : { plusMinus: numeric(doubt) }) }
}

/**
 * The radio button chosen out of a group.
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
      return { turns: measure(choice('turnsPer'), text('turns'), text('turnsDoubt')) }
    default:
      return { [by]: measure(lengthUnit, text(by), text(`${by}Doubt`)) }
  }
}

/** @returns {Array<Record<string, unknown>>} */
function stages() {
  return readStages().map(({ way, values }) => {
    /** @type {Record<string, unknown>} */
    const stage = { kind: way.kind }
    for (const [place, given] of values) {
      const [outer = '', inner] = place.split('/')
      const value = numeric(given.trim())
      stage[outer] = inner === undefined ? value : { .../** @type {object} */ (stage[outer]), [inner]: value }
    }
    return stage
  })
}

/**
 * The vehicle profile that the form describes, faults and all.
 * @param {HTMLFormElement} form
 */
export function profileOf(form) {
  const speedUnit = chosen(form, 'speedUnit')
  const fitted = tire(chosen(form, 'lengthUnit'))
  const dialMax = text('dialMax')
  const topSpeed = text('topSpeed')
  return {
    name: text('name'),
    tires: { front: fitted, rear: fitted },
    paths: [
      {
        name: 'speedometer',
        axle: choice('axle'),
        stages: stages(),
        head: {
          takes: choice('takes'),
          constant: measure(choice('constantPer'), text('constant'), text('constantDoubt')),
          unit: speedUnit,
          ...(dialMax === '' ? {} : { dialMax: measure(speedUnit, dialMax) }),
        },
      },
    ],
    rule: choice('rule'),
    ...(topSpeed === '' ? {} : { topSpeed: measure(speedUnit, topSpeed) }),
  }
}
