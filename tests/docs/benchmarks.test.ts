import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'

const root = join(import.meta.dirname, '../..')
const read = (file: string) => readFileSync(join(root, file), 'utf8')
const { benchmarksPage, parseHistory } = await import(join(root, 'bench/support/history.mjs'))

const record = (date: string, ratio: number) => ({
  date,
  commit: 'abc1234',
  machine: `Node of ${date}`,
  rows: [{ name: 'a thing', ratio, floor: 'another', target: 0.5 }],
})

test('docs/benchmarks.md is what bench/history.jsonl says (npm run bench -- --record writes both)', () => {
  expect(read('docs/benchmarks.md')).toBe(benchmarksPage(parseHistory(read('bench/history.jsonl'))))
})

test('the page keeps every record, newest first', () => {
  const dates = ['2026-01-01T10:00:00.000Z', '2026-02-01T10:00:00.000Z', '2026-03-01T10:00:00.000Z']
  const page: string = benchmarksPage(dates.map((date, index) => record(date, 0.25 * (index + 1))))
  const places = [0.75, 0.5, 0.25].map((ratio) => page.indexOf(`| ${ratio.toFixed(2)} `))
  expect(places.every((place) => place > 0)).toBe(true)
  expect(places).toEqual(places.toSorted((a, b) => a - b))
  expect(page).toMatch(/\| 0\.75 .*0\.5 met/)
  expect(page).toMatch(/\| 0\.25 .*0\.5 missed/)
  for (const date of dates) expect(page).toContain(`Node of ${date}`)
})
