import { askCheck, askWorksheet, Trouble } from './ask.js'
import { byId, el } from './dom.js'
import { clearFaults, showTrouble } from './faults.js'
import { eachNumber } from './numbers.js'
import { chosen, profileOf } from './profile.js'
import { resultParts, resultSentence } from './result.js'
import { restoreForm, saveForm } from './saved.js'
import { addStage, clearStages } from './stages.js'

const form = byId('car', HTMLFormElement)
const check = byId('check', HTMLButtonElement)
const said = byId('said', HTMLElement)
const result = byId('result', HTMLElement)

/** Conversion factor of each unit to the alternative one in the form. @type {Readonly<Record<string, number>>} */
const SIZE = { mph: 1.609344, kmh: 1, in: 25.4, mm: 1 }
/** @type {Readonly<Record<string, string>>} */
const UNIT_WORDS = { mph: 'mph', kmh: 'km/h', in: 'inches', mm: 'mm' }

/** The units that the form is in. @type {{ speed: string, length: string }} */
const units = { speed: 'mph', length: 'mm' }
const QUANTITIES = /** @type {const} */ (['speed', 'length'])

/** The fields of speeds, or of lengths. */
const measures = (/** @type {'speed' | 'length'} */ quantity) =>
  /** @type {NodeListOf<HTMLInputElement>} */ (form.querySelectorAll(`[data-measure=${quantity}]`))

/** Shows the chosen unit in every label that names it. */
function showUnit(/** @type {'speed' | 'length'} */ quantity) {
  const unit = chosen(form, `${quantity}Unit`)
  units[quantity] = unit
  for (const word of form.querySelectorAll(`[data-unit=${quantity}]`))
    word.textContent = UNIT_WORDS[unit] ?? unit
}

/** Converts the entries to the unit now chosen. */
function followUnit(/** @type {'speed' | 'length'} */ quantity) {
  const from = units[quantity]
  showUnit(quantity)
  const to = units[quantity]
  for (const input of measures(quantity)) {
    // Convert from the typed text: converting back and forth would add rounding errors.
    if (input.value !== input.dataset.shown) Object.assign(input.dataset, { typed: input.value, unit: from })
    const { typed = '', unit = from } = input.dataset
    const factor = (SIZE[unit] ?? 1) / (SIZE[to] ?? 1)
    input.value = unit === to ? typed : eachNumber(typed, (value) => Number((value * factor).toPrecision(6)))
    input.dataset.shown = input.value
  }
}

/** Shows the fields for the chosen way to describe the tire. */
function showTire() {
  const by = byId('tireBy', HTMLSelectElement).value
  for (const row of /** @type {NodeListOf<HTMLElement>} */ (form.querySelectorAll('[data-tire]'))) {
    row.hidden = row.dataset.tire !== by
  }
}

/** Shows what the head counts: turns or pulses. */
function showInput() {
  const input = byId('input', HTMLSelectElement).value
  byId('input-word', HTMLElement).textContent = input === 'turns' ? 'Turns' : 'Pulses'
}

/** Updates all dependent parts of the form after it was filled in or cleared. */
function showDependent() {
  for (const quantity of QUANTITIES) {
    showUnit(quantity)
    for (const input of measures(quantity)) delete input.dataset.shown
  }
  showTire()
  showInput()
  const own = byId('own-error', HTMLDetailsElement)
  own.open = [...own.querySelectorAll('input')].some(({ value }) => value !== '')
}

/** Clears the form. */
function emptyForm() {
  form.reset()
  clearStages()
  addStage('final-drive teeth')
  addStage('gear-pair teeth')
  showDependent()
  clearFaults(form)
}

/** Fills in an invented car whose axle and tires were changed. */
function fillExample() {
  const values = {
    name: 'Tarvenna Ostrel saloon',
    topSpeed: '85',
    size: '175/70R13',
    wear: '2',
    constant: '1000',
    dialMax: '100',
  }
  emptyForm()
  for (const [id, value] of Object.entries(values)) byId(id, HTMLInputElement).value = value
  clearStages()
  addStage('final-drive teeth', { ring: '37', pinion: '9' })
  addStage('gear-pair teeth', { 'teeth/driving': '6', 'teeth/driven': '20' })
}

/** The profile that the displayed result belongs to, as text, and the result in one sentence. */
let answered = { profile: '', sentence: '' }

/** Marks the result as outdated when the form no longer matches it. */
function showWhetherFresh() {
  if (busy || result.hidden) return
  const fresh = JSON.stringify(profileOf(form)) === answered.profile
  const words = 'The form has changed since this check.'
  result.querySelector('.outdated')?.remove()
  if (!fresh) result.prepend(el('p', { class: 'outdated' }, words))
  const sentence = fresh ? answered.sentence : words
  // Announced once, however many changes follow.
  if (said.textContent !== sentence) said.textContent = sentence
}

/** Downloads the worksheet of the checked profile. */
async function saveWorksheet(
  /** @type {unknown} */ profile,
  /** @type {string} */ mediaType,
  /** @type {string} */ file,
  /** @type {HTMLElement} */ status,
) {
  status.textContent = 'Making the worksheet …'
  try {
    const blob = await askWorksheet(
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

/** The buttons that download the worksheet. */
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
    button('Worksheet as HTML', 'text/html', 'worksheet.html'),
    status,
  )
}

/** For an answer in another format: the service may have been upgraded since the page was loaded. */
const UNREADABLE = 'This page cannot show the answer of the service. Reload the page; your entries are kept.'

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
    const answer = await askCheck(profile, () => {
      said.textContent = 'Still waiting for the service …'
    })
    result.replaceChildren(...resultParts(answer, unit), worksheetTools(profile))
    result.hidden = false
    answered = { profile: JSON.stringify(profile), sentence: resultSentence(answer) }
    // Do not scroll away from somebody who is still typing.
    if (JSON.stringify(profileOf(form)) === answered.profile) result.scrollIntoView()
  } catch (error) {
    said.textContent = ''
    showTrouble(form, error instanceof Trouble ? error : new Trouble(UNREADABLE))
    if (!(error instanceof Trouble)) throw error
  } finally {
    busy = false
    check.removeAttribute('aria-disabled')
    showWhetherFresh()
  }
}

for (const quantity of QUANTITIES) {
  for (const radio of form.querySelectorAll(`[name=${quantity}Unit]`)) {
    radio.addEventListener('change', () => followUnit(quantity))
  }
}
byId('tireBy', HTMLSelectElement).addEventListener('change', showTire)
byId('input', HTMLSelectElement).addEventListener('change', showInput)
byId('example', HTMLButtonElement).addEventListener('click', fillExample)
byId('empty', HTMLButtonElement).addEventListener('click', emptyForm)
byId('add', HTMLButtonElement).addEventListener('click', () => addStage('gear-pair teeth').focus())
form.addEventListener('submit', (event) => {
  event.preventDefault()
  submit()
})
if (restoreForm(form)) showDependent()
else emptyForm()
for (const kind of ['input', 'change', 'click']) {
  form.addEventListener(kind, () => {
    saveForm(form)
    showWhetherFresh()
  })
}
form.hidden = false
