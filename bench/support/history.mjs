// The records of measurements: bench/history.jsonl, one per line, oldest first; docs/benchmarks.md shows them.

const number = (value) => value.toFixed(value < 10 ? 2 : 0)

export const verdict = ({ ratio, target }) => (target === undefined ? '' : ratio >= target ? 'met' : 'missed')

function table(head, rows) {
  const widths = head.map((title, index) => Math.max(title.length, ...rows.map((row) => row[index].length)))
  const line = (row) => `| ${row.map((cell, index) => cell.padEnd(widths[index])).join(' | ')} |`
  return [line(head), `|${widths.map((width) => '-'.repeat(width + 2)).join('|')}|`, ...rows.map(line)].join(
    '\n',
  )
}

const target = (row) => (row.target === undefined ? '' : `${row.target} ${verdict(row)}`)

/** A table with all columns of the rows of a record. */
export const fullTable = (rows) =>
  table(
    ['what', 'ratio', 'middle half', 'against', 'target', 'note'],
    rows.map((row) => [
      row.name,
      number(row.ratio),
      row.spread === undefined ? '' : row.spread.map(number).join(' to '),
      row.floor,
      target(row),
      row.note ?? '',
    ]),
  )

const title = ({ date, commit }) => `${date.slice(0, 16).replace('T', ' ')} UTC, commit ${commit}`

/** The page, newest first: the last record in full, of earlier ones a line for each ratio. */
export function benchmarksPage(records) {
  const [last, ...earlier] = records.toReversed()
  const lines = earlier.flatMap((record) =>
    record.rows.map((row) => [title(record), row.name, number(row.ratio), row.floor, target(row)]),
  )
  const machines = earlier.map((record) => `- ${title(record)}: ${record.machine}`)
  const history =
    earlier.length === 0
      ? ''
      : `
## Earlier

${table(['when', 'what', 'ratio', 'against', 'target'], lines)}

${machines.join('\n')}
`
  return `# Benchmarks

Written by \`npm run bench -- --record\` from \`bench/history.jsonl\`, which keeps every record. Ratios of two things measured in one run; times of one
machine say nothing about another.

## ${title(last)}

${fullTable(last.rows)}

${last.machine}
${history}`
}

export const parseHistory = (text) =>
  text
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => JSON.parse(line))
