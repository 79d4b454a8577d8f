import { byId, el } from './dom.js'

/** @typedef {HTMLInputElement | HTMLSelectElement} Field */

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

/** @param {string} detail */
const sentence = (detail) => detail.charAt(0).toUpperCase() + detail.slice(1)

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
  for (const { pointer, detail } of trouble.faults) {
    const field = fieldAt(form, pointer.replace(/^#/, ''))
    if (field === undefined) elsewhere.add(sentence(detail))
    // The same tire stands for both axles: what is wrong with it is said once.
    else if (!atFields.has(field))
      atFields.set(field, field.value === '' ? 'Fill this in.' : sentence(detail))
  }
  const items = [...elsewhere].map((words) => el('li', {}, words))
  for (const [field, words] of atFields) {
    mark(field, words)
    const link = el('a', { href: `#${field.id}` }, `${labelOf(field)}: ${words}`)
    link.addEventListener('click', (event) => {
      event.preventDefault()
      field.focus()
    })
    items.push(el('li', {}, link))
  }
  summary.replaceChildren(el('h2', {}, 'Not checked'), el('p', {}, trouble.message))
  if (items.length > 0) summary.append(el('ul', {}, ...items))
  summary.hidden = false
  summary.focus()
}
