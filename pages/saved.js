import { addStage, clearStages, readStages } from './stages.js'

/** Key in the session storage, which lasts as long as the tab. */
const PLACE = 'wheel-to-dial form'

/** @typedef {HTMLInputElement | HTMLSelectElement} Field */

/** All fields except those of the stages, which are dynamic. @param {HTMLFormElement} form */
function fieldsOf(form) {
  const fields = /** @type {Field[]} */ ([...form.querySelectorAll('input, select')])
  return fields.filter((field) => field.closest('#stages') === null)
}

/** @param {Field} field */
const isRadio = (field) => field.type === 'radio'

/**
 * The session storage, if the browser allows it.
 * @returns {Storage | undefined}
 */
function storage() {
  try {
    return sessionStorage
  } catch {
    return undefined
  }
}

/** Saves the entries. @param {HTMLFormElement} form */
export function saveForm(form) {
  const given = fieldsOf(form).filter(
    (field) => !isRadio(field) || /** @type {HTMLInputElement} */ (field).checked,
  )
  const fields = Object.fromEntries(given.map(({ name, id, value }) => [name || id, value]))
  storage()?.setItem(PLACE, JSON.stringify({ fields, stages: readStages() }))
}

/**
 * Restores saved entries after a reload or back navigation. The browser's own restoring is turned off, because it would not update
 * the unit labels and the stages.
 *
 * @param {HTMLFormElement} form
 * @returns {boolean} Whether there were saved entries.
 */
export function restoreForm(form) {
  const saved = storage()?.getItem(PLACE)
  if (typeof saved !== 'string') return false
  /** @type {{ fields: Record<string, string>, stages: ReturnType<typeof readStages> }} */
  const { fields, stages } = JSON.parse(saved)
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
