import type { WorksheetShape } from '../schemas/worksheets.js'
import { rounded, signed, trimmed } from './numbers.js'
import type { Block, Section } from './sheet.js'
import { LEVELS, left, type Remedy, right, VERDICTS } from './worksheet-words.js'

/** Remedies printed for each path; the rest rank lower. */
const MAX_REMEDIES = 5

export function findings({ findings: found }: WorksheetShape): Section {
  const rows = found.map(({ level, text, remedy }) => [LEVELS[level], text, remedy ?? ''])
  return {
    heading: 'Findings',
    blocks: [
      rows.length === 0
        ? { kind: 'text', text: 'No findings.' }
        : {
            kind: 'table',
            caption: 'Findings, most severe first',
            columns: [left('Level'), left('Finding', true), left('What to do', true)],
            rows,
          },
    ],
  }
}

const costText = ({ cost }: Remedy) =>
  cost === undefined
    ? ''
    : [
        cost.total === undefined ? '' : `total ${trimmed(cost.total, 2)}`,
        cost.price === undefined ? '' : `parts ${trimmed(cost.price, 2)}`,
        cost.minutes === undefined ? '' : `${trimmed(cost.minutes, 1)} min`,
      ]
        .filter((text) => text !== '')
        .join(', ')

export function remedies({ remedies: found, paths, findings }: WorksheetShape): Section {
  const printed = paths.flatMap(({ name }) =>
    found.filter(({ path }) => path === name).slice(0, MAX_REMEDIES),
  )
  const several = paths.length > 1
  const priced = printed.some(({ cost }) => cost !== undefined)
  const rows = printed.map((remedy) => {
    const verdict = remedy.verdicts[0]
    const cells = [
      ...(several ? [remedy.path] : []),
      [remedy.text, ...(remedy.cautions ?? [])].join(' '),
      `${signed(rounded(remedy.errorPercent, 1))} %`,
      verdict === undefined ? '' : VERDICTS[verdict.result],
      remedy.remains.join(' '),
    ]
    return priced ? [...cells, costText(remedy)] : cells
  })
  const columns = [
    ...(several ? [left('Path')] : []),
    left('What to do', true),
    right('Error\nafterwards'),
    left('Verdict\nafterwards'),
    left('What remains', true),
  ]
  const more = found.length - printed.length
  const blocks: Block[] = [
    rows.length === 0
      ? {
          kind: 'text',
          text: findings.every(({ level }) => level === 'info')
            ? 'No remedy is needed.'
            : 'No remedy is offered; the findings say what to do.',
        }
      : {
          kind: 'table',
          caption: 'What puts it right, best first',
          columns: priced ? [...columns, left('Cost')] : columns,
          rows,
        },
  ]
  if (more > 0)
    blocks.push({
      kind: 'text',
      text: `Further remedies, of lower rank, which only the JSON form lists: ${more}.`,
    })
  return { heading: 'Remedies', blocks }
}
