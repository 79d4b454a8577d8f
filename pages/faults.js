import { byId, el } from './dom.js'
import { isNumber } from './numbers.js'

/** @typedef {HTMLInputElement | HTMLSelectElement} Field */
/** @typedef {import('./ask.js').Fault} Fault */

const summary = byId('trouble', HTMLElement)

/**
 * The field for a pointer, or for its nearest ancestor that has a field; for a measure, the field of its value.
 *
 * @param {HTMLFormElement} form
 * @param {string} pointer
 * @returns {Field | undefined}
 */
function fieldAt(form, pointer) {
  const fields = /** @type {Field[]} */ ([...form.querySelectorAll('[data-pointers]')])
  let best
  let length = 0
  for (const field of fields) {
    for (const place of (field.dataset.pointers ?? '').split(' ')) {
      const holds = pointer === place || pointer.startsWith(`${place}/`)
      if (holds && place.length > length && field.closest('[hidden]') === null) {
        best = field
        length = place.length
      }
    }
  }
  return best
}

/** @param {Field} field */
function labelOf(field) {
  const label = field.closest('[role=radiogroup]')?.querySelector('.label') ?? field.labels?.[0]
  const stage = field.closest('#stages fieldset')?.querySelector('legend')?.textContent
  return (stage === undefined ? '' : `${stage}, `) + (label?.textContent ?? '')
}

/** Where a form takes a tire that is not known by its size. */
const OTHER_TIRE =
  document.getElementById('tireBy') === null ? 'use the full form' : 'choose how under “Known by”'

/** Error texts in the words of this form, by code. @type {Readonly<Record<string, string>>} */
const WORDS = {
  'tire-size-not-understood': `This is not a tire size. Write it as on the sidewall, for example 195/70R14, 165R15, 5.60-15 or 31x10.50R15LT; or measure the tire and ${OTHER_TIRE}.`,
  'tire-size-not-tabulated': `The diameter of this size is in no standard. Measure the tire and ${OTHER_TIRE}.`,
  'path-order':
    'Wrong order. From the wheel come first gears, angle drives and adapters, then at most one pulse ring, then pulse scalers.',
  'head-does-not-fit-path':
    'The stages do not match this head. A pulse-driven head needs a pulse ring among the stages; a cable-driven head must have none.',
}

/** @param {string} detail */
const sentence = (detail) => detail.charAt(0).toUpperCase() + detail.slice(1)

/**
 * The text of an error for the user.
 *
 * @param {Field} field
 * @param {Fault} fault
 */
function wordsFor(field, { code, detail }) {
  if (field.value.trim() === '') return 'Fill this in.'
  const words = WORDS[code] ?? sentence(detail)
  return code === 'wrong-type' && !isNumber(field.value)
    ? `${words}: use digits and a decimal point only, for example 1000 or 3.7`
    : words
}

/**
 * Shows an error at its field.
 *
 * @param {Field} field
 * @param {string} words
 */
function mark(field, words) {
  const id = `${field.id || field.name}-fault`
  field.setAttribute('aria-invalid', 'true')
  const described = field.getAttribute('aria-describedby')?.split(' ') ?? []
  field.setAttribute('aria-describedby', [id, ...described].join(' '))
  field.closest('.field')?.append(el('p', { class: 'fault', id }, words))
  field.closest('details')?.setAttribute('open', '')
}

/**
 * Removes the error from a field.
 * @param {Element} field
 */
function unmark(field) {
  const described = field.getAttribute('aria-describedby')?.split(' ') ?? []
  const [fault, ...rest] = described
  if (fault !== undefined) document.getElementById(fault)?.remove()
  field.removeAttribute('aria-invalid')
  if (rest.length > 0) field.setAttribute('aria-describedby', rest.join(' '))
  else field.removeAttribute('aria-describedby')
}

/** Removes all errors from the page. @param {HTMLFormElement} form */
export function clearFaults(form) {
  summary.hidden = true
  summary.replaceChildren()
  for (const field of form.querySelectorAll('[aria-invalid]')) unmark(field)
}

/**
 * Shows a failed check: each error at its field, and on top a list of all errors, including those without a field.
 *
 * @param {HTMLFormElement} form
 * @param {import('./ask.js').Trouble} trouble
 */
export function showTrouble(form, trouble) {
  /** @type {Map<Field, string>} */
  const atFields = new Map()
  /** @type {Set<string>} */
  const elsewhere = new Set()
  for (const fault of trouble.faults) {
    const field = fieldAt(form, fault.pointer.replace(/^#/, ''))
    if (field === undefined) elsewhere.add(sentence(fault.detail))
    // One tire field fills both axles: report its error once.
    else if (!atFields.has(field)) atFields.set(field, wordsFor(field, fault))
  }
  const items = [...elsewhere].map((words) => el('li', {}, words))
  for (const field of /** @type {Iterable<Field>} */ (form.elements)) {
    const words = atFields.get(field)
    if (words === undefined) continue
    mark(field, words)
    const link = el('a', { href: `#${field.id}` }, `${labelOf(field)}: ${words}`)
    link.addEventListener('click', (event) => {
      event.preventDefault()
      field.focus()
    })
    items.push(el('li', {}, link))
  }
  summary.replaceChildren(
    el('h2', { id: 'trouble-title' }, 'Not checked'),
    el('p', { id: 'trouble-words' }, trouble.message),
  )
  if (items.length > 0) summary.append(el('ul', {}, ...items))
  summary.hidden = false
  summary.focus()
}
