import { byId, el } from './dom.js'
import { isNumber } from './profile.js'

/** @typedef {HTMLInputElement | HTMLSelectElement} Field */
/** @typedef {import('./ask.js').Fault} Fault */

const summary = byId('trouble', HTMLElement)

/**
 * The field at a pointer, or at the nearest place around it that has one: of a measure the field of its value.
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

/** What the service says in the words of its profile, in those of this form. @type {Readonly<Record<string, string>>} */
const WORDS = {
  'tire-size-not-understood':
    'Not read as a tire size. Write it as on the sidewall, for example 195/70R14, 165R15, 5.60-15 or 31x10.50R15LT, or choose another way under “Known by”.',
  'tire-size-not-tabulated':
    'No rule gives the diameter of this size. Measure the tire, and choose how under “Known by”.',
  'path-order':
    'Not in this place. From the wheel on come first gears, angle drives and adapters, then at most one pulse ring, then pulse scalers.',
  'head-does-not-fit-path':
    'The stages do not give what drives this head. For pulses there must be a pulse ring among them; for a cable there must be none.',
}

/** @param {string} detail */
const sentence = (detail) => detail.charAt(0).toUpperCase() + detail.slice(1)

/**
 * A fault in words for whoever filled in its field.
 *
 * @param {Field} field
 * @param {Fault} fault
 */
function wordsFor(field, { code, detail }) {
  if (field.value.trim() === '') return 'Fill this in.'
  const words = WORDS[code] ?? sentence(detail)
  return code === 'wrong-type' && !isNumber(field.value)
    ? `${words}: write only digits, and a point before decimals, for example 1000 or 3.7`
    : words
}

/**
 * Shows a fault at its field.
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
 * Takes the mark of a fault away.
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

/** Takes all faults off the page. @param {HTMLFormElement} form */
export function clearFaults(form) {
  summary.hidden = true
  summary.replaceChildren()
  for (const field of form.querySelectorAll('[aria-invalid]')) unmark(field)
}

/**
 * Shows why there is no answer: every fault at its field, and all of them, with those that belong to no field, on top.
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
    // The same tire stands for both axles: what is wrong with it is said once.
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
