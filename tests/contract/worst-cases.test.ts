import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { WorkMeter } from '../../tools/work-meter.js'
import { type Calculation, worstApp } from '../../tools/worst-app.js'
import { Climb, type Schema, type Tried } from '../../tools/worst-climb.js'
import { jsonBody, operations, readOpenApi, requestExamples } from '../support/contract.js'

/**
 * A short form of `npm run worst`: for each calculation without a key, a search for the request that makes the most work. Work is counted in
 * blocks of code that this thread ran, so the bound holds on any machine. What runs in another thread keeps no caller waiting and counts nothing.
 */
const STEPS = 12
const PAIRS = 8

/** Most work of a request: some 50 ms in the tightest loops, of which a refused search makes three fifths. */
const MAX_WORK = 30_000_000

const document = readOpenApi()
const calculations = operations(document).filter(
  (operation) =>
    operation.method === 'POST' && !('security' in operation.spec) && jsonBody(operation) !== undefined,
)

let served: Awaited<ReturnType<typeof worstApp>>
let meter: WorkMeter

beforeAll(async () => {
  served = await worstApp()
  meter = new WorkMeter()
})
afterAll(async () => {
  meter.stop()
  await served.app.close()
})

async function workOf(calculation: Calculation, body: unknown) {
  const status = await served.ask(calculation, body)
  return { status, work: meter.read() }
}

const shown = (tried: Tried | undefined) => JSON.stringify(tried?.body)?.slice(0, 2000)

describe('no request without a key makes more work than the bound', () => {
  for (const operation of calculations) {
    const { operationId } = operation.spec
    const calculation = { operationId, url: operation.path, mediaType: 'application/json' }
    test(operationId, async () => {
      const examples = requestExamples(document, operation)
      for (const body of examples) await served.ask(calculation, body)
      meter.read()
      const climb = new Climb(document, 1)
      const { valid, invalid } = await climb.climb(
        jsonBody(operation) as Schema,
        examples,
        STEPS,
        PAIRS,
        (body) => workOf(calculation, body),
      )
      if (process.env.SHOW) console.log(operationId, valid?.work, invalid?.work)
      expect(valid?.work ?? 0, shown(valid)).toBeLessThan(MAX_WORK)
      expect(invalid?.work ?? 0, shown(invalid)).toBeLessThan(MAX_WORK)
    })
  }
})

/** Requests that held the thread of all callers for seconds until 2026-11, found by someone who attacked the service. */
describe('requests that once stopped the service', () => {
  const drivePath = (stages: number) => ({
    tire: { size: '195/70R14' },
    stages: Array.from({ length: stages }, () => ({ kind: 'gear-pair', find: { maxTerm: 1_000_000 } })),
    head: { input: 'turns', constant: { perMile: 1000 }, unit: 'mph' },
  })
  const trains = { stages: 3, teeth: { min: 201, max: 400 }, eachOnce: true, maxResults: 100 }
  test.each([
    // 3.6 s, 62 s and not back after 120 s.
    ['/v1/drive-paths/solution', '7 open stages', drivePath(7)],
    ['/v1/drive-paths/solution', '8 open stages', drivePath(8)],
    ['/v1/drive-paths/solution', '20 open stages', drivePath(20)],
    // 28 s and 24 s.
    [
      '/v1/gears/trains',
      'a ratio of 1/999999937',
      { ...trains, ratio: { numerator: 1, denominator: 999_999_937 } },
    ],
    ['/v1/gears/trains', 'a ratio of 0.001', { ...trains, ratio: 0.001 }],
  ])('%s, %s', async (url, _, body) => {
    const { status, work } = await workOf({ operationId: '', url, mediaType: 'application/json' }, body)
    expect(status).toBe(200)
    expect(work).toBeLessThan(MAX_WORK)
  })
})

// Found 2026-11: it was refused after 15.9 million blocks, 21 ms, although the lengths of its lists say how much the search takes.
test('a search that cannot end within its budget is refused before it begins', async () => {
  const teeth = (count: number, from: number) => Array.from({ length: count }, (_, n) => from + n)
  const stage = { kind: 'gear-pair', find: { driving: teeth(200, 1), driven: teeth(6, 201) } }
  const body = {
    tire: { size: '195/70R14' },
    stages: Array.from({ length: 10 }, () => stage),
    head: { input: 'turns', constant: { perMile: 1000 }, unit: 'mph' },
  }
  const calculation = { operationId: '', url: '/v1/drive-paths/solution', mediaType: 'application/json' }
  const { status, work } = await workOf(calculation, body)
  expect(status).toBe(422)
  // Each of 2 000 gears is read and sorted; nothing is tried.
  expect(work).toBeLessThan(500_000)
})

// Found 2026-11: 444 bytes held the thread for 107 to 450 ms; with an unknown heat transfer each end of each range is a search over its distribution.
test('an enclosure of uncertain surroundings and unknown heat transfer is computed in a thread', async () => {
  const body = {
    ambient: { c: 147.5, plusMinus: 4.95 },
    power: { w: 1.2 },
    surface: { cm2: 216 },
    materials: Array.from({ length: 20 }, () => ({ kind: 'abs' })),
  }
  const calculation = { operationId: '', url: '/v1/electrics/enclosure', mediaType: 'application/json' }
  const { status, work } = await workOf(calculation, body)
  expect(status).toBe(200)
  // 7 million blocks on the thread of all callers before.
  expect(work).toBeLessThan(100_000)
})

// Found 2026-11: 200 speeds with uncertainties of their own, 7 kB, held the thread for 89 ms: each is two searches over the spread of two tires.
test('a long table of the error of a dial is computed in a thread', async () => {
  const body = {
    fitted: { size: '195/70R14' },
    calibratedFor: { size: '5.60-15' },
    speeds: Array.from({ length: 200 }, (_, n) => ({ kmh: n + 1, plusMinus: 0.001 * (n + 1) ** 1.5 })),
    rules: ['un-r39'],
  }
  const calculation = { operationId: '', url: '/v1/gauges/error', mediaType: 'application/json' }
  const { status, work } = await workOf(calculation, body)
  expect(status).toBe(200)
  // 9.8 million blocks on the thread of all callers before.
  expect(work).toBeLessThan(200_000)
})

test('docs/worst-cases.md has a row for each calculation', () => {
  const page = readFileSync(join(import.meta.dirname, '../../docs/worst-cases.md'), 'utf8')
  for (const { spec } of calculations) expect(page).toContain(`| ${spec.operationId} |`)
})
