import { byId, el } from './dom.js'

/** @typedef {import('../src/schemas/worksheets.js').WorksheetShape} Worksheet */
/** @typedef {Worksheet['paths'][number]} Path */
/** @typedef {Path['verdicts'][number]} Verdict */
/** @typedef {'mph' | 'kmh'} SpeedUnit */

const UNIT_WORDS = { mph: 'mph', kmh: 'km/h' }

const RESULT_WORDS = {
  conforms: 'allowed',
  'does-not-conform': 'not allowed',
  'not-proven': 'not proven',
}

const LEVEL_WORDS = { fail: 'Fails', caution: 'Caution', info: 'Note' }

const STANDING_WORDS = {
  published: 'published',
  'from-memory': 'published, quoted from memory',
  'common-practice': 'common practice',
  derived: 'derived',
  user: 'as stated, not measured',
  measured: 'measured',
}

/** @param {string} words */
const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1)

/** Most decimals shown; an error below the last of them counts as zero. */
const MAX_DECIMALS = 6

/** @param {number} value @param {number} decimals */
const rounded = (value, decimals = 1) =>
  value
    .toFixed(decimals)
    .replace(/^-(0\.0*)$/, '$1')
    .replace('-', '−')

/** Decimals needed so that an error other than zero is not shown as 0.0. @param {number} error */
function decimalsShowing(error) {
  for (let decimals = 1; decimals <= MAX_DECIMALS; decimals++) {
    if (Number(error.toFixed(decimals)) !== 0) return decimals
  }
  return 1
}

/** Empty for exact values; a tiny uncertainty is never shown as zero. @param {number | undefined} uncertainty */
function plusMinus(uncertainty) {
  if (uncertainty === undefined || uncertainty === 0) return ''
  return rounded(uncertainty) === '0.0' ? ' ± less than 0.1' : ` ± ${rounded(uncertainty)}`
}

/** A probability in percent; 0 and 100 % only when exact. @param {number} probability */
function percent(probability) {
  if (probability > 0 && probability < 0.001) return 'less than 0.1 %'
  if (probability < 1 && probability > 0.999) return 'more than 99.9 %'
  return `${rounded(probability * 100)} %`
}

/** The title of a rule, as the form offers it. @param {string} id */
const ruleTitle = (id) =>
  [...byId('rule', HTMLSelectElement).options].find(({ value }) => value === id)?.text ?? id

/** @param {number} error */
const overReads = (error) => (error < 0 ? 'under-reads' : 'over-reads')

/**
 * @param {Verdict} verdict
 * @param {SpeedUnit} unit
 */
function verdictLine({ rule, result, probability, at }, unit) {
  const where =
    at === undefined ? ' (odometer)' : ` at the worst speed, ${rounded(at[unit])} ${UNIT_WORDS[unit]}`
  return el(
    'p',
    { class: `verdict ${result}` },
    el('strong', {}, capital(RESULT_WORDS[result])),
    ` under ${ruleTitle(rule)}. Probability that it conforms: ${percent(probability)}${where}.`,
  )
}

/**
 * @param {Path} path
 * @param {SpeedUnit} unit
 */
function figures(path, unit) {
  const { indicatedPerTrue, odometerErrorPercent, odometerErrorPlusMinusPercent, output, required } = path
  const [per, distance] =
    unit === 'mph'
      ? /** @type {const} */ (['perMile', 'mile'])
      : /** @type {const} */ (['perKm', 'kilometer'])
  const shown = (indicatedPerTrue.value - 1) * 100
  const uncertainty = indicatedPerTrue.plusMinus === undefined ? undefined : indicatedPerTrue.plusMinus * 100
  /** @type {Array<[string, string]>} */
  const rows = [
    [
      'Speedometer',
      `${overReads(shown)} by ${rounded(Math.abs(shown), decimalsShowing(shown))}${plusMinus(uncertainty)} %`,
    ],
    [
      'Odometer',
      `${overReads(odometerErrorPercent)} by ${rounded(Math.abs(odometerErrorPercent))}${plusMinus(odometerErrorPlusMinusPercent)} %`,
    ],
    [
      'Drive to the head',
      `${rounded(output[per])}${plusMinus(output.plusMinus?.[per])} ${path.pulses === undefined ? 'turns' : 'pulses'} per ${distance}; the head reads true at ${rounded(required[per])}`,
    ],
  ]
  return el('dl', {}, ...rows.map(([term, words]) => el('div', {}, el('dt', {}, term), el('dd', {}, words))))
}

/**
 * @param {Path} path
 * @param {SpeedUnit} unit
 */
function speedTable({ name, table }, unit) {
  const heads = [`True ${UNIT_WORDS[unit]}`, `Dial ${UNIT_WORDS[unit]}`, 'Error %', 'Verdict']
  const rows = table.map((row) => {
    const verdicts = row.verdicts?.map(({ result }) => capital(RESULT_WORDS[result])).join(', ') ?? ''
    return el(
      'tr',
      {},
      el('th', { scope: 'row' }, rounded(row.true[unit])),
      el(
        'td',
        {},
        row.indicated
          ? rounded(row.indicated[unit], decimalsShowing(row.indicated[unit] - row.true[unit])) +
              plusMinus(row.indicated.plusMinus?.[unit])
          : '',
      ),
      el(
        'td',
        {},
        row.errorPercent === undefined ? '' : rounded(row.errorPercent, decimalsShowing(row.errorPercent)),
      ),
      el('td', {}, verdicts || '·'),
    )
  })
  return el(
    'div',
    { class: 'scroll', role: 'region', tabindex: '0', 'aria-label': `Table of speeds, ${name}` },
    el(
      'table',
      {},
      el('caption', {}, `What the ${name} reads at each true speed, with its uncertainty (95 %)`),
      el('thead', {}, el('tr', {}, ...heads.map((head) => el('th', { scope: 'col' }, head)))),
      el('tbody', {}, ...rows),
    ),
  )
}

/**
 * The plot drawn by the service, parsed as an image and not as markup of the page.
 * @param {Path} path
 */
function plot({ name, plot: svg }) {
  const { documentElement } = new DOMParser().parseFromString(svg, 'image/svg+xml')
  return el(
    'figure',
    { class: 'scroll', role: 'region', tabindex: '0', 'aria-label': `Plot of the error, ${name}` },
    document.importNode(documentElement, true),
  )
}

/**
 * @param {Path} path
 * @param {SpeedUnit} unit
 * @returns {Node[]}
 */
function pathParts(path, unit) {
  return [
    ...path.verdicts.map((verdict) => verdictLine(verdict, unit)),
    figures(path, unit),
    plot(path),
    speedTable(path, unit),
  ]
}

/** @param {Worksheet['findings']} findings */
const findingList = (findings) =>
  el(
    'ul',
    {},
    ...findings.map(({ level, text, remedy }) =>
      el(
        'li',
        { class: level },
        el('strong', {}, `${LEVEL_WORDS[level]}: `),
        text,
        remedy === undefined ? '' : ` ${remedy}`,
      ),
    ),
  )

/** @param {Worksheet['remedies']} remedies */
const remedyList = (remedies) =>
  el(
    'ol',
    {},
    ...remedies.map(({ action, text, errorPercent, withinAim, remains, cautions = [] }) =>
      el(
        'li',
        {},
        el('strong', {}, text),
        ` ${action === 'measure-rolling-circumference' ? 'Until then' : 'Afterwards'} it ${overReads(errorPercent)} by ${rounded(Math.abs(errorPercent))} %${
          withinAim ? '' : ', outside the aim of 0 to 4 % over-reading'
        }. ${[...remains, ...cautions].join(' ')}`,
      ),
    ),
  )

/** @param {Worksheet['notes']} notes */
const noteList = (notes) =>
  el(
    'ul',
    {},
    ...notes.map(({ level, text }) =>
      el('li', {}, level === 'caution' ? el('strong', {}, 'Caution: ') : '', text),
    ),
  )

/** @param {Worksheet['references']} references */
const sourceList = (references) =>
  el(
    'ul',
    {},
    ...references.map(({ title, standing }) => el('li', {}, `${title} (${STANDING_WORDS[standing]})`)),
  )

/**
 * The result of a check as elements of the page.
 *
 * @param {Worksheet} worksheet
 * @param {SpeedUnit} unit
 * @returns {Node[]}
 */
export function resultParts({ vehicle, paths, findings, remedies, notes, references, model }, unit) {
  /** @type {Array<[title: string, list: HTMLElement]>} */
  const lists = [
    ['Findings', findingList(findings)],
    ['What puts it right', remedyList(remedies)],
    ['Cautions and notes', noteList(notes)],
  ]
  return [
    el('h2', { id: 'result-title' }, `Result: ${vehicle.name}`),
    ...paths.flatMap((path) => pathParts(path, unit)),
    ...lists
      .filter(([, list]) => list.childElementCount > 0)
      .flatMap(([title, list]) => [el('h3', {}, title), list]),
    el('h3', { id: 'sources' }, `Sources, model ${model}`),
    sourceList(references),
  ]
}

/** In one sentence. @param {Worksheet} worksheet */
export function resultSentence({ paths }) {
  const verdicts = paths.flatMap((path) => path.verdicts)
  const words = verdicts.map(({ rule, result }) => `${RESULT_WORDS[result]} under ${ruleTitle(rule)}`)
  return words.length === 0
    ? 'Checked. That rule has no limits for this dial.'
    : `Checked: ${words.join('; ')}.`
}
