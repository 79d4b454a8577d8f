// Runs every bench/*.bench.mjs: each exports an async function that returns rows
// { name, ratio, spread?: [low, high], floor, target?, note? }. Prints a table and what it ran on.
// `--record` also adds a record to bench/history.jsonl and writes docs/benchmarks.md anew. Words after that choose modules by
// name: `npm run bench -- operations`.
import { spawnSync } from 'node:child_process'
import { appendFileSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { availableParallelism, loadavg, release, totalmem, type } from 'node:os'
import { join } from 'node:path'
import { benchmarksPage, fullTable, parseHistory, verdict } from './support/history.mjs'

const words = process.argv.slice(2).filter((word) => !word.startsWith('--'))
const record = process.argv.includes('--record')

const modules = readdirSync(import.meta.dirname)
  .filter((file) => file.endsWith('.bench.mjs'))
  .filter((file) => words.length === 0 || words.some((word) => file.startsWith(word)))
  .sort()

const git = (...args) =>
  spawnSync('git', args, { cwd: import.meta.dirname, encoding: 'utf8' }).stdout?.trim() ?? ''

const rows = []
for (const file of modules) {
  console.error(`running ${file}`)
  const { default: measure } = await import(join(import.meta.dirname, file))
  rows.push(...(await measure()))
}

const machine = [
  `Node ${process.versions.node}`,
  `${type()} ${release()}`,
  `${availableParallelism()} processors (${process.arch})`,
  `${Math.round(totalmem() / 2 ** 30)} GiB`,
  `load ${loadavg()[0].toFixed(1)}`,
].join(', ')

console.log(`${fullTable(rows)}\n\n${machine}`)

if (record) {
  const changed = git('status', '--porcelain', '--', '../src') === '' ? '' : ' and changes'
  const commit = `${git('rev-parse', '--short', 'HEAD') || 'unknown'}${changed}`
  const history = join(import.meta.dirname, 'history.jsonl')
  appendFileSync(history, `${JSON.stringify({ date: new Date().toISOString(), commit, machine, rows })}\n`)
  const page = benchmarksPage(parseHistory(readFileSync(history, 'utf8')))
  writeFileSync(join(import.meta.dirname, '../docs/benchmarks.md'), page)
}

if (rows.some((row) => verdict(row) === 'missed')) process.exitCode = 1
