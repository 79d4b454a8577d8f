import { byId, el } from './dom.js'

/**
 * A way to describe a stage: its kind in the profile and its fields, each with its path in the stage.
 * @typedef {{ kind: string, label: string, fields: ReadonlyArray<readonly [place: string, label: string]> }} Way
 */

/** @type {Way['fields']} */
const RATIO = [['ratio', 'Turns out per turn in']]
/** @type {Way['fields']} */
const TEETH = [
  ['teeth/driving', 'Teeth of the driving gear'],
  ['teeth/driven', 'Teeth of the driven gear'],
]

/** @type {Readonly<Record<string, Way>>} */
export const WAYS = {
  'final-drive teeth': {
    kind: 'final-drive',
    label: 'Final drive, by its teeth',
    fields: [
      ['ring', 'Teeth of the ring gear'],
      ['pinion', 'Teeth of the pinion'],
    ],
  },
  'final-drive ratio': {
    kind: 'final-drive',
    label: 'Final drive, by its ratio',
    fields: [['ratio', 'Ratio, for example 4.11']],
  },
  'gear-pair teeth': { kind: 'gear-pair', label: 'Speedometer gears', fields: TEETH },
  'angle-drive ratio': { kind: 'angle-drive', label: 'Angle drive, by its ratio', fields: RATIO },
  'angle-drive teeth': { kind: 'angle-drive', label: 'Angle drive, by its teeth', fields: TEETH },
  'adapter ratio': { kind: 'adapter', label: 'Ratio adapter, by its ratio', fields: RATIO },
  'adapter teeth': { kind: 'adapter', label: 'Ratio adapter, by its teeth', fields: TEETH },
  'transfer-case ratio': { kind: 'transfer-case', label: 'Transfer case, by its ratio', fields: RATIO },
  'transfer-case teeth': { kind: 'transfer-case', label: 'Transfer case, by its teeth', fields: TEETH },
  'pulse-ring': {
    kind: 'pulse-ring',
    label: 'Pulse ring or sensor',
    fields: [['pulsesPerTurn', 'Pulses per turn']],
  },
  'pulse-scaler numbers': {
    kind: 'pulse-scaler',
    label: 'Pulse scaler, by whole numbers',
    fields: [
      ['multiply', 'Pulses out'],
      ['divide', 'for pulses in'],
    ],
  },
  'pulse-scaler ratio': {
    kind: 'pulse-scaler',
    label: 'Pulse scaler, by its ratio',
    fields: [['ratio', 'Pulses out per pulse in']],
  },
}

const list = byId('stages', HTMLOListElement)
const said = byId('stages-said', HTMLElement)
let made = 0

/** @param {Element} item */
const selectOf = (item) => /** @type {HTMLSelectElement} */ (item.querySelector('select'))

/** Shows the fields for the chosen kind of stage. @param {HTMLLIElement} item */
function showFields(item) {
  const select = selectOf(item)
  const fields = (WAYS[select.value]?.fields ?? []).map(([place, label]) => {
    const id = `${select.id}-${place.replace('/', '-')}`
    const input = el('input', { id, inputmode: 'decimal', 'data-place': place })
    return el('div', { class: 'field' }, el('label', { for: id }, label), input)
  })
  item.querySelector('.values')?.replaceChildren(...fields)
}

/** Updates the numbers of the stages and the pointers that errors refer to. */
function number() {
  for (const [index, item] of [...list.children].entries()) {
    const legend = item.querySelector('legend')
    if (legend !== null) legend.textContent = `Stage ${index + 1}`
    const pointer = `/paths/0/stages/${index}`
    selectOf(item).dataset.pointers = pointer
    for (const input of item.querySelectorAll('input')) {
      input.dataset.pointers = `${pointer}/${input.dataset.place}`
    }
  }
}

/** @param {HTMLLIElement} item */
function moveUp(item) {
  if (item.previousElementSibling === null) return 'This stage is already nearest to the wheel.'
  item.previousElementSibling.before(item)
  return 'Moved toward the wheel.'
}

/** @param {HTMLLIElement} item */
function moveDown(item) {
  if (item.nextElementSibling === null) return 'This stage is already nearest to the dial.'
  item.nextElementSibling.after(item)
  return 'Moved toward the dial.'
}

/** @param {HTMLLIElement} item */
function remove(item) {
  const next = item.nextElementSibling ?? item.previousElementSibling
  item.remove()
  if (next === null) byId('add', HTMLButtonElement).focus()
  else selectOf(next).focus()
  return 'Removed.'
}

/** The buttons of a stage: label and action, which returns the announcement. */
const ACTIONS = /** @type {const} */ ([
  ['Toward the wheel', moveUp],
  ['Toward the dial', moveDown],
  ['Remove', remove],
])

/**
 * Adds a stage at the dial end.
 *
 * @param {string} way
 * @param {Readonly<Record<string, string>>} [values] - By place.
 */
export function addStage(way, values = {}) {
  const id = `stage-${++made}`
  const select = el(
    'select',
    { id },
    ...Object.entries(WAYS).map(([value, { label }]) => el('option', { value }, label)),
  )
  select.value = way
  const item = el(
    'li',
    {},
    el(
      'fieldset',
      {},
      el('legend'),
      el(
        'div',
        { class: 'row' },
        el('div', { class: 'field' }, el('label', { for: id }, 'Kind'), select),
        el('div', { class: 'values' }),
      ),
    ),
  )
  const buttons = ACTIONS.map(([words, act]) => {
    const button = el('button', { type: 'button' }, words)
    button.addEventListener('click', () => {
      said.textContent = act(item)
      number()
      if (button.isConnected) button.focus()
    })
    return button
  })
  item.querySelector('fieldset')?.append(el('p', { class: 'tools' }, ...buttons))
  select.addEventListener('change', () => {
    showFields(item)
    number()
  })
  showFields(item)
  for (const input of item.querySelectorAll('input')) input.value = values[input.dataset.place ?? ''] ?? ''
  list.append(item)
  number()
  return select
}

/** Removes all stages. */
export function clearStages() {
  list.replaceChildren()
  made = 0
}

/**
 * The stages from wheel to dial, each with its kind and its field values by path.
 * @returns {Array<{ way: string, values: Record<string, string> }>}
 */
export function readStages() {
  return [...list.children].map((item) => ({
    way: selectOf(item).value,
    values: Object.fromEntries(
      [...item.querySelectorAll('input')].map((input) => [input.dataset.place ?? '', input.value]),
    ),
  }))
}
