import { ask, Trouble } from './ask.js'
import { byId, el } from './dom.js'
import { clearFaults, showTrouble } from './faults.js'
import { chosen, profileOf } from './profile.js'
import { resultParts, resultSentence } from './result.js'
import { addStage, clearStages } from './stages.js'

const form = byId('car', HTMLFormElement)
const check = byId('check', HTMLButtonElement)
const said = byId('said', HTMLElement)
const result = byId('result', HTMLElement)

/** Size of a unit in the unit that stands beside it in the form. @type {Readonly<Record<string, number>>} */
const SIZE = { mph: 1.609344, kmh: 1, in: 25.4, mm: 1 }
/** @type {Readonly<Record<string, string>>} */
const UNIT_WORDS = { mph: 'mph', kmh: 'km/h', in: 'inches', mm: 'mm' }

/** The units that the form is in. @type {{ speed: string, length: string }} */
const units = { speed: 'mph', length: 'mm' }

/** Turns what is filled in into the unit now chosen, so that it stays the same speed or length. */
function followUnit(/** @type {'speed' | 'length'} */ quantity) {
  const from = units[quantity]
  const to = chosen(form, `${quantity}Unit`)
  units[quantity] = to
  for (const word of form.querySelectorAll(`[data-unit=${quantity}]`)) word.textContent = UNIT_WORDS[to] ?? to
  const inputs = /** @type {NodeListOf<HTMLInputElement>} */ (
    form.querySelectorAll(`[data-measure=${quantity}]`)
  )
  for (const input of inputs) {
    // What was typed is kept: turned there and back it would come home a little off.
    if (input.value !== input.dataset.shown) Object.assign(input.dataset, { typed: input.value, unit: from })
    const { typed = '', unit = from } = input.dataset
    const value = (Number(typed) * (SIZE[unit] ?? 1)) / (SIZE[to] ?? 1)
    const stays = unit === to || typed.trim() === '' || !Number.isFinite(value)
    input.value = stays ? typed : String(Number(value.toPrecision(6)))
    input.dataset.shown = input.value
  }
}

/** Shows the fields of the way in which the tire is known. */
function showTire() {
  const by = byId('tireBy', HTMLSelectElement).value
  for (const row of /** @type {NodeListOf<HTMLElement>} */ (form.querySelectorAll('[data-tire]'))) {
    row.hidden = row.dataset.tire !== by
  }
}

/** Names what the head counts, as chosen. */
function showTakes() {
  const takes = byId('takes', HTMLSelectElement).value
  byId('takes-word', HTMLElement).textContent = takes === 'turns' ? 'Turns' : 'Pulses'
}

/** Fills in an invented car whose axle and tires were changed. */
function fillExample() {
  const values = {
    name: 'Marlin 1500 saloon',
    topSpeed: '85',
    size: '175/70R13',
    wear: '2',
    constant: '1000',
    dialMax: '100',
  }
  form.reset()
  followUnit('speed')
  followUnit('length')
  for (const [id, value] of Object.entries(values)) byId(id, HTMLInputElement).value = value
  clearStages()
  addStage('final-drive teeth', { ring: '37', pinion: '9' })
  addStage('gear-pair teeth', { 'teeth/driving': '6', 'teeth/driven': '20' })
  showTire()
  showTakes()
  clearFaults(form)
  outdate()
}

/** Says that the result is not of what the form now holds. */
function outdate() {
  if (result.hidden || result.querySelector('.outdated') !== null) return
  result.prepend(el('p', { class: 'outdated' }, 'The form was changed after this check.'))
}

/** Saves the worksheet of what was checked as a file. */
async function saveWorksheet(
  /** @type {unknown} */ profile,
  /** @type {string} */ mediaType,
  /** @type {string} */ file,
  /** @type {HTMLElement} */ status,
) {
  status.textContent = 'Making the worksheet …'
  try {
    const blob = await ask(
      profile,
      mediaType,
      (response) => response.blob(),
      () => undefined,
    )
    const link = el('a', { href: URL.createObjectURL(blob), download: file })
    link.click()
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000)
    status.textContent = `${file} is saved.`
  } catch (error) {
    if (!(error instanceof Trouble)) throw error
    status.textContent = error.message
  }
}

/** The buttons that give the worksheet as a file. */
function worksheetTools(/** @type {unknown} */ profile) {
  const status = el('span', { role: 'status' })
  const button = (
    /** @type {string} */ words,
    /** @type {string} */ mediaType,
    /** @type {string} */ file,
  ) => {
    const made = el('button', { type: 'button' }, words)
    made.addEventListener('click', () => saveWorksheet(profile, mediaType, file, status))
    return made
  }
  return el(
    'p',
    { class: 'tools' },
    button('Worksheet as PDF', 'application/pdf', 'worksheet.pdf'),
    button('Worksheet as a page', 'text/html', 'worksheet.html'),
    status,
  )
}

let busy = false

async function submit() {
  if (busy) return
  busy = true
  check.setAttribute('aria-disabled', 'true')
  said.textContent = 'Checking …'
  clearFaults(form)
  const profile = profileOf(form)
  const unit = /** @type {'mph' | 'kmh'} */ (chosen(form, 'speedUnit'))
  try {
    const answer = await ask(
      profile,
      'application/json',
      (response) => response.json(),
      () => {
        said.textContent = 'Still waiting for the service …'
      },
    )
    result.replaceChildren(...resultParts(answer, unit), worksheetTools(profile))
    result.hidden = false
    said.textContent = resultSentence(answer)
    result.scrollIntoView()
  } catch (error) {
    said.textContent = ''
    outdate()
    if (!(error instanceof Trouble)) throw error
    showTrouble(form, error)
  } finally {
    busy = false
    check.removeAttribute('aria-disabled')
  }
}

for (const quantity of /** @type {const} */ (['speed', 'length'])) {
  for (const radio of form.querySelectorAll(`[name=${quantity}Unit]`)) {
    radio.addEventListener('change', () => followUnit(quantity))
  }
}
byId('tireBy', HTMLSelectElement).addEventListener('change', showTire)
byId('takes', HTMLSelectElement).addEventListener('change', showTakes)
byId('example', HTMLButtonElement).addEventListener('click', fillExample)
byId('add', HTMLButtonElement).addEventListener('click', () => addStage('gear-pair teeth').focus())
form.addEventListener('input', outdate)
form.addEventListener('submit', (event) => {
  event.preventDefault()
  submit()
})
addStage('final-drive teeth')
addStage('gear-pair teeth')
showTire()
showTakes()
form.hidden = false
