import { byId, el } from './dom.js'

/** @typedef {import('../src/schemas/worksheets.js').WorksheetShape} Worksheet */
/** @typedef {Worksheet['paths'][number]} Path */
/** @typedef {Path['verdicts'][number]} Verdict */
/** @typedef {'mph' | 'kmh'} SpeedUnit */

const UNIT_WORDS = { mph: 'mph', kmh: 'km/h' }

const RESULT_WORDS = {
  conforms: 'conforms',
  'does-not-conform': 'does not conform',
  'not-proven': 'not proven',
}

const LEVEL_WORDS = { fail: 'Fails', caution: 'Caution', info: 'Note' }

/** @param {string} words */
const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1)

/** Most decimals at which a small error is looked for before it is none. */
const MAX_DECIMALS = 6

/** @param {number} value @param {number} decimals */
const rounded = (value, decimals = 1) =>
  value
    .toFixed(decimals)
    .replace(/^-(0\.0*)$/, '$1')
    .replace('-', '−')

/** Decimals at which an error that is not zero is not written as zero: a dial that fails never shows 0.0. @param {number} error */
function decimalsShowing(error) {
  for (let decimals = 1; decimals <= MAX_DECIMALS; decimals++) {
    if (Number(error.toFixed(decimals)) !== 0) return decimals
  }
  return 1
}

/** Nothing for what is exact; what is not never shows as if it were. @param {number | undefined} uncertainty */
function plusMinus(uncertainty) {
  if (uncertainty === undefined || uncertainty === 0) return ''
  return rounded(uncertainty) === '0.0' ? ' ± less than 0.1' : ` ± ${rounded(uncertainty)}`
}

/** A probability in percent; certain is what is certain alone. @param {number} probability */
function percent(probability) {
  if (probability > 0 && probability < 0.001) return 'less than 0.1 %'
  if (probability < 1 && probability > 0.999) return 'more than 99.9 %'
  return `${rounded(probability * 100)} %`
}

/** The title of a rule, as the form offers it. @param {string} id */
const ruleTitle = (id) =>
  [...byId('rule', HTMLSelectElement).options].find(({ value }) => value === id)?.text ?? id

/**
 * @param {Verdict} verdict
 * @param {SpeedUnit} unit
 */
function verdictLine({ rule, result, probability, at }, unit) {
  const where = at === undefined ? ' in distance' : `, at ${rounded(at[unit])} ${UNIT_WORDS[unit]} at worst`
  return el(
    'p',
    { class: `verdict ${result}` },
    el('strong', {}, capital(RESULT_WORDS[result])),
    ` · ${ruleTitle(rule)}. It conforms with a probability of ${percent(probability)}${where}.`,
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
  const record = odometerErrorPercent < 0 ? 'slow' : 'fast'
  /** @type {Array<[string, string]>} */
  const rows = [
    [
      'The dial shows',
      `${rounded(Math.abs(shown), decimalsShowing(shown))} %${plusMinus(uncertainty)} ${shown < 0 ? 'less' : 'more'} than true`,
    ],
    [
      'The odometer runs',
      `${rounded(Math.abs(odometerErrorPercent))} %${plusMinus(odometerErrorPlusMinusPercent)} ${record}`,
    ],
    [
      'The head gets',
      `${rounded(output[per])}${plusMinus(output.plusMinus?.[per])} per ${distance}; it reads true at ${rounded(required[per])}`,
    ],
  ]
  return el('dl', {}, ...rows.map(([term, words]) => el('div', {}, el('dt', {}, term), el('dd', {}, words))))
}

/**
 * @param {Path} path
 * @param {SpeedUnit} unit
 */
function speedTable({ name, table }, unit) {
  const heads = [`True ${UNIT_WORDS[unit]}`, `Shown ${UNIT_WORDS[unit]}`, 'Error %', 'Verdict']
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
      el('caption', {}, `What the ${name} shows at each speed, with the uncertainty (95 %)`),
      el('thead', {}, el('tr', {}, ...heads.map((head) => el('th', { scope: 'col' }, head)))),
      el('tbody', {}, ...rows),
    ),
  )
}

/**
 * The plot that the service drew. Read as a picture, never as a part of the page.
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
    ...remedies.map(({ text, errorPercent, withinAim, remains, cautions = [] }) =>
      el(
        'li',
        {},
        el('strong', {}, text),
        ` It then shows ${rounded(Math.abs(errorPercent))} % ${errorPercent < 0 ? 'less' : 'more'} than true${
          withinAim ? '' : ', which is outside the aim: at most 4 % more, never less'
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
  el('ul', {}, ...references.map(({ title, standing }) => el('li', {}, `${title} (${standing})`)))

/**
 * What the worksheet says, for people.
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
    ['Remarks', noteList(notes)],
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
  const words = verdicts.map(({ rule, result }) => `${RESULT_WORDS[result]} by ${ruleTitle(rule)}`)
  return words.length === 0 ? 'Checked. That rule says nothing about speed.' : `Checked: ${words.join('; ')}.`
}
