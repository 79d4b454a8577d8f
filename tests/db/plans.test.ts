import { afterAll, describe, expect, test } from 'vitest'
import { openDatabase } from '../../src/db/sqlite/open.js'
import { MATCHING } from '../../src/db/sqlite/part-texts.js'
import { fitPartsSql, fitReportsSql } from '../../src/db/units/fits.js'
import {
  NEAR_DOWN_SQL,
  NEAR_UP_SQL,
  NEXT_SECONDARY_SQL,
  partListSql,
  REPORTED_ON_SQL,
} from '../../src/db/units/parts.js'

/** Without statistics: what a fresh file does, whatever it comes to hold. */
const db = openDatabase({ file: ':memory:', nowMs: 0 })
afterAll(() => db.close())

const bound = {
  kind: 'k',
  maker: 'm',
  text: '"t"',
  key: 'bolt-circle/4',
  minM: 0.1,
  maxM: 0.2,
  afterM: 0.1,
  after: 0,
  limit: 10,
  make: 'm',
  model: 'm',
  year: 1966,
  part: 1,
  about: 1,
}
const planOf = (sql: string, ...values: unknown[]) =>
  db
    .prepare<unknown[], { detail: string }>(`EXPLAIN QUERY PLAN ${sql}`)
    .all(...(values.length === 0 ? [bound] : values))
    .map(({ detail }) => detail)

/** The table that the statement starts from is read by an index, and nothing is read whole or sorted. */
function expectIndexed(plan: readonly string[], first: RegExp) {
  expect(plan[0]).toMatch(first)
  for (const step of plan) {
    expect(step).not.toMatch(/TEMP B-TREE/)
    if (!/VIRTUAL TABLE INDEX/.test(step)) expect(step).not.toMatch(/^SCAN/)
  }
}

describe('lists of parts read the index that their order comes from', () => {
  const circle = { key: 'bolt-circle/4', minM: 0.1, maxM: 0.2 }
  test.each([
    ['all', {}, /^SEARCH parts USING INTEGER PRIMARY KEY \(rowid>\?\)/],
    ['by kind', { kind: 'k' }, /parts_by_kind \(kind=\? AND number>\?\)/],
    ['by maker', { maker: 'm' }, /parts_by_maker \(maker_key=\? AND number>\?\)/],
    [
      'by maker and kind',
      { maker: 'm', kind: 'k' },
      /parts_by_maker_and_kind \(maker_key=\? AND kind=\? AND number>\?\)/,
    ],
    ['by words', { text: 't' }, /^SCAN part_texts VIRTUAL TABLE INDEX \d+:M\d>/],
    ['by words and kind', { text: 't', kind: 'k' }, /^SCAN part_texts VIRTUAL TABLE INDEX \d+:M\d>/],
    [
      'by bolt circle',
      { interface: circle },
      /part_interfaces_by_key \(key=\? AND secondary_m=\? AND \(primary_m,part\)>\(\?,\?\) AND primary_m<\?\)/,
    ],
    [
      'by bolt circle and words',
      { interface: circle, text: 't' },
      /part_interfaces_by_key \(key=\? AND secondary_m=\? AND \(primary_m,part\)>\(\?,\?\) AND primary_m<\?\)/,
    ],
  ])('%s', (_name, filter, first) => {
    expectIndexed(planOf(partListSql(filter, MATCHING)), first)
  })
})

test('lists by bolt circle look for the other interfaces of a part among its own', () => {
  const plan = planOf(partListSql({ interface: { key: 'bolt-circle/4', minM: 0.1, maxM: 0.2 } }, MATCHING))
  expect(plan.filter((step) => /SEARCH earlier/.test(step))).toEqual([
    expect.stringMatching(/^SEARCH earlier USING PRIMARY KEY \(part=\?/),
  ])
})

describe('candidates walk the index of interfaces outward', () => {
  test.each([
    ['upward', NEAR_UP_SQL, ['k', 0, 0.1, 0.2, 10]],
    ['downward', NEAR_DOWN_SQL, ['k', 0, 0.2, 0.1, 10]],
  ])('%s', (_name, sql, values) => {
    const plan = planOf(sql, ...values)
    expectIndexed(
      plan,
      /COVERING INDEX part_interfaces_by_key \(key=\? AND secondary_m=\? AND primary_m>\? AND primary_m<\?\)/,
    )
    expect(plan).toHaveLength(1)
  })

  test('from pitch to pitch', () => {
    expectIndexed(
      planOf(NEXT_SECONDARY_SQL, 'k', 0, 1),
      /COVERING INDEX part_interfaces_by_key \(key=\? AND secondary_m>\?/,
    )
  })
})

describe('fit searches read the index of what is asked', () => {
  test.each([
    ['all', {}, /fits_by_part \(part>\?\)/],
    ['by make', { make: 'm' }, /fits_by_make \(make_key=\? AND part>\?\)/],
    ['by model', { model: 'm' }, /fits_by_model \(model_key=\? AND part>\?\)/],
    ['by kind', { kind: 'k' }, /fits_by_kind \(part_kind=\? AND part>\?\)/],
    [
      'by make and model',
      { make: 'm', model: 'm' },
      /fits_by_vehicle \(make_key=\? AND model_key=\? AND part>\?\)/,
    ],
    [
      'by make, model and year',
      { make: 'm', model: 'm', year: 1966 },
      /fits_by_vehicle \(make_key=\? AND model_key=\? AND part>\?\)/,
    ],
    [
      'by make and kind',
      { make: 'm', kind: 'k' },
      /fits_by_make_and_kind \(make_key=\? AND part_kind=\? AND part>\?\)/,
    ],
    [
      'by make, model, year and kind',
      { make: 'm', model: 'm', year: 1966, kind: 'k' },
      /fits_by_vehicle_and_kind \(make_key=\? AND model_key=\? AND part_kind=\? AND part>\?\)/,
    ],
  ])('%s', (_name, filter, first) => {
    expectIndexed(planOf(fitPartsSql(filter)), first)
    expectIndexed(planOf(fitReportsSql(filter)), /part=\?/)
  })

  test('by part, on either side', () => {
    const plan = planOf(fitPartsSql({ part: 'p' })).join('\n')
    expect(plan).toMatch(/fits_by_part \(part=\?/)
    expect(plan).toMatch(/fits_by_other_part \(other_part=\? AND part>\?\)/)
    expect(plan).not.toMatch(/SCAN fits/)
  })
})

test('remedies read the parts that reports about a vehicle speak of off an index', () => {
  expectIndexed(
    planOf(REPORTED_ON_SQL, 'm', 'm', 'k', 10),
    /INDEX fits_by_vehicle_and_kind \(make_key=\? AND model_key=\? AND part_kind=\?\)/,
  )
})
