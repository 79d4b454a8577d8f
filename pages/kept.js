import { addStage, clearStages, readStages } from './stages.js'

/** Where what is filled in is kept while the tab is open. */
const PLACE = 'wheel-to-dial form'

/** @typedef {HTMLInputElement | HTMLSelectElement} Field */

/** The fields but those of the stages, which come and go. @param {HTMLFormElement} form */
function fieldsOf(form) {
  const fields = /** @type {Field[]} */ ([...form.querySelectorAll('input, select')])
  return fields.filter((field) => field.closest('#stages') === null)
}

/** @param {Field} field */
const isRadio = (field) => field.type === 'radio'

/**
 * The store of the tab, where the browser grants one.
 * @returns {Storage | undefined}
 */
function storage() {
  try {
    return sessionStorage
  } catch {
    return undefined
  }
}

/** Keeps what is filled in. @param {HTMLFormElement} form */
export function keepForm(form) {
  const given = fieldsOf(form).filter(
    (field) => !isRadio(field) || /** @type {HTMLInputElement} */ (field).checked,
  )
  const fields = Object.fromEntries(given.map(({ name, id, value }) => [name || id, value]))
  storage()?.setItem(PLACE, JSON.stringify({ fields, stages: readStages() }))
}

/**
 * Puts back what was kept, as after a reload or a way back. A browser's own way would bring the units without the words
 * and the stages that hang on them: the form has it turned off.
 *
 * @param {HTMLFormElement} form
 * @returns {boolean} Whether there was any.
 */
export function restoreForm(form) {
  const kept = storage()?.getItem(PLACE)
  if (typeof kept !== 'string') return false
  /** @type {{ fields: Record<string, string>, stages: ReturnType<typeof readStages> }} */
  const { fields, stages } = JSON.parse(kept)
  for (const field of fieldsOf(form)) {
    const value = fields[field.name || field.id]
    if (value === undefined) continue
    if (isRadio(field)) /** @type {HTMLInputElement} */ (field).checked = field.value === value
    else field.value = value
  }
  clearStages()
  for (const { way, values } of stages) addStage(way, values)
  return true
}
