// Runs every bench/*.bench.mjs: each exports an async function that gives rows
// { name, ratio, spread?: [low, high], floor, target?, note? }. Prints a table and what it ran on.
// `--record` also writes docs/benchmarks.md. Words after that choose modules by name: `npm run bench -- operations`.
import { readdirSync, writeFileSync } from 'node:fs'
import { availableParallelism, cpus, loadavg, release, totalmem, type } from 'node:os'
import { join } from 'node:path'

const words = process.argv.slice(2).filter((word) => !word.startsWith('--'))
const record = process.argv.includes('--record')

const modules = readdirSync(import.meta.dirname)
  .filter((file) => file.endsWith('.bench.mjs'))
  .filter((file) => words.length === 0 || words.some((word) => file.startsWith(word)))
  .sort()

const number = (value) => value.toFixed(value < 10 ? 2 : 0)

const rows = []
for (const file of modules) {
  console.error(`running ${file}`)
  const { default: measure } = await import(join(import.meta.dirname, file))
  rows.push(...(await measure()))
}

const verdict = ({ ratio, target }) => (target === undefined ? '' : ratio >= target ? 'met' : 'missed')
const cells = rows.map((row) => [
  row.name,
  number(row.ratio),
  row.spread === undefined ? '' : row.spread.map(number).join(' to '),
  row.floor,
  row.target === undefined ? '' : `${row.target} ${verdict(row)}`,
  row.note ?? '',
])
const head = ['what', 'ratio', 'middle half', 'against', 'target', 'note']
const widths = head.map((title, index) => Math.max(title.length, ...cells.map((row) => row[index].length)))
const line = (row) => `| ${row.map((cell, index) => cell.padEnd(widths[index])).join(' | ')} |`
const table = [
  line(head),
  `|${widths.map((width) => '-'.repeat(width + 2)).join('|')}|`,
  ...cells.map(line),
].join('\n')

const facts = [
  `Node ${process.versions.node}`,
  `${type()} ${release()}`,
  `${availableParallelism()} x ${cpus()[0]?.model.trim() ?? 'unknown processor'}`,
  `${Math.round(totalmem() / 2 ** 30)} GiB`,
  `load ${loadavg()[0].toFixed(1)}`,
].join(', ')

console.log(`${table}\n\n${facts}`)

if (record) {
  const page = `# Benchmarks

Written by \`npm run bench -- --record\`. Ratios of two things measured in turns in one run; times of one machine say nothing
about another.

${table}

${facts}
`
  writeFileSync(join(import.meta.dirname, '../docs/benchmarks.md'), page)
}

if (rows.some((row) => verdict(row) === 'missed')) process.exitCode = 1
