import { askCheck, Trouble } from './ask.js'
import { byId } from './dom.js'
import { clearFaults, showTrouble } from './faults.js'
import { measure, measures, numeric } from './numbers.js'
import { resultParts, resultSentence } from './result.js'

const form = byId('car', HTMLFormElement)
const check = byId('check', HTMLButtonElement)
const said = byId('said', HTMLElement)
const result = byId('result', HTMLElement)
const unitField = byId('unit', HTMLSelectElement)
const rule = byId('rule', HTMLSelectElement)

/** @param {string} id */
const text = (id) => byId(id, HTMLInputElement).value.trim()

/** The vehicle profile from the form, including invalid entries. @param {'mph' | 'kmh'} unit */
function profileOf(unit) {
  const tire = { size: text('size') }
  const dialMax = text('dialMax')
  const speeds = measures(unit, text('speeds'))
  return {
    name: 'your car',
    tires: { front: tire, rear: tire },
    paths: [
      {
        name: 'speedometer',
        axle: 'rear',
        stages: [
          { kind: 'final-drive', ring: numeric(text('ring')), pinion: numeric(text('pinion')) },
          {
            kind: 'gear-pair',
            teeth: { driving: numeric(text('driving')), driven: numeric(text('driven')) },
          },
        ],
        head: {
          input: 'turns',
          constant: measure(unit === 'mph' ? 'perMile' : 'perKm', text('constant')),
          unit,
          ...(dialMax === '' ? {} : { dialMax: measure(unit, dialMax) }),
        },
      },
    ],
    rule: rule.value,
    ...(speeds.length === 0 ? {} : { speeds }),
  }
}

let busy = false

async function submit() {
  if (busy) return
  busy = true
  check.setAttribute('aria-disabled', 'true')
  said.textContent = 'Checking …'
  clearFaults(form)
  result.hidden = true
  const unit = unitField.value === 'kmh' ? 'kmh' : 'mph'
  try {
    const answer = await askCheck(profileOf(unit), () => {
      said.textContent = 'Still waiting for the service …'
    })
    result.replaceChildren(...resultParts(answer, unit))
    result.hidden = false
    said.textContent = resultSentence(answer)
  } catch (error) {
    said.textContent = ''
    showTrouble(form, error instanceof Trouble ? error : new Trouble('Reload the page and try again.'))
    if (!(error instanceof Trouble)) throw error
  } finally {
    busy = false
    check.removeAttribute('aria-disabled')
  }
}

form.addEventListener('submit', (event) => {
  event.preventDefault()
  submit()
})
// The page around it chooses what the form begins with: /embed#unit=kmh&rule=de-before-1991
const presets = new URLSearchParams(location.hash.slice(1))
for (const field of [unitField, rule]) {
  const value = presets.get(field.id)
  if ([...field.options].some((option) => option.value === value)) field.value = String(value)
}
form.hidden = false
// The page around it may fit the frame to the form. The height is no secret, so any page may know it.
if (window.parent !== window) {
  const { documentElement } = document
  const tell = () =>
    window.parent.postMessage({ type: 'wheel-to-dial-height', height: documentElement.offsetHeight }, '*')
  new ResizeObserver(tell).observe(documentElement)
}
