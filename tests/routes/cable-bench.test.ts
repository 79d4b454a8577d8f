import { afterAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'

const app = await testApp()
afterAll(() => app.close())

const HEAD = { input: 'turns', constant: { perMile: 1000 }, unit: 'mph', dialMax: { mph: 90 } }
const bench = (body: object) => post(app, '/v1/cables/bench-table', body)
const check = (body: object) => post(app, '/v1/cables/count-check', body)
const codes = (body: { notes: { code: string }[] }) => body.notes.map(({ code }) => code)

describe('POST /v1/cables/bench-table', () => {
  test('without speeds: every 10 mph of the dial', async () => {
    const { body } = await bench({ head: HEAD })
    expect(body.rows.map((row: { speed: { mph: number } }) => Math.round(row.speed.mph))).toEqual([
      10, 20, 30, 40, 50, 60, 70, 80, 90,
    ])
    expect(body.rows[5].rpm.rpm).toBeCloseTo(1000, 9)
    expect(body.rows[5].tolerances[0]).toMatchObject({ rule: 'us-army-bench-1944', basis: 'rule' })
    expect(body.rows[5].tolerances[0].upper.mph).toBeCloseTo(63, 9)
  })
  test('a drill of 750 rpm reaches 45 mph', async () => {
    const { body } = await bench({ head: HEAD, drill: { topSpeed: { rpm: 750 } } })
    expect(body.drillReaches.mph).toBeCloseTo(45, 9)
    expect(body.rows.map((row: { drillReaches: boolean }) => row.drillReaches)).toEqual([
      true,
      true,
      true,
      true,
      false,
      false,
      false,
      false,
      false,
    ])
    expect(codes(body)).toContain('drill-too-slow')
  })
  // Found 2026-11: ± 0.6 mph, the uncertainty of the constant alone. 1 % and 10 % of 60 mph in squares (JCGM 100:2008, 5.1.6): √(0.6² + 6²) = 6.03.
  test('a drill of 1000 ± 100 rpm on a constant of 1000 ± 10 a mile reaches 60 ± 6.03 mph', async () => {
    const { body } = await bench({
      head: { ...HEAD, constant: { perMile: 1000, plusMinus: 10 } },
      drill: { topSpeed: { rpm: 1000, plusMinus: 100 } },
    })
    expect(body.drillReaches.mph).toBeCloseTo(60, 9)
    expect(body.drillReaches.plusMinus.mph).toBeCloseTo(Math.hypot(0.6, 6), 9)
  })
  // Found 2026-11: 60 mph and 1000 rpm, without any uncertainty. 0.6 of 60 mph is 1 % of 1000 rpm.
  test('a mark read to 0.6 mph is driven at a rate known to 1 %', async () => {
    const { body } = await bench({ head: HEAD, speeds: [{ mph: 60, plusMinus: 0.6 }] })
    expect(body.rows[0].speed.plusMinus.mph).toBeCloseTo(0.6, 9)
    expect(body.rows[0].rpm.plusMinus.rpm).toBeCloseTo(10, 9)
  })
  test('a shaft of the wrong lay gets a caution, one of the right lay none', async () => {
    const wrong = await bench({ head: HEAD, headTurns: 'counterclockwise', outerLayer: 'left-hand' })
    expect(codes(wrong.body)).toContain('shaft-unwinds')
    const right = await bench({ head: HEAD, headTurns: 'clockwise', outerLayer: 'left-hand' })
    expect(codes(right.body)).not.toContain('shaft-unwinds')
    expect(right.body.turn).toBe('clockwise')
  })
  test("rpms become speeds, and the head's own error shows", async () => {
    const { body } = await bench({
      head: { ...HEAD, scalePercent: 5, offset: { mph: 1 } },
      rpms: [{ rpm: 500 }],
    })
    expect(body.rows[0].speed.mph).toBeCloseTo(30, 9)
    expect(body.rows[0].shows.mph).toBeCloseTo(32.5, 9)
  })
  test('a head that takes pulses is driven by a frequency, not by a drill: 4000/km at 90 km/h is 100 Hz', async () => {
    const head = { input: 'pulses', constant: { perKm: 4000 }, unit: 'kmh' }
    const { body } = await bench({ head, speeds: [{ kmh: 90 }] })
    expect(body.rows[0].frequency.hz).toBeCloseTo(100, 9)
    const refused = await bench({ head, drill: { topSpeed: { rpm: 1000 } } })
    expect(refused.status).toBe(422)
    expect(refused.body.errors[0].pointer).toBe('#/drill')
  })
})

describe('POST /v1/cables/count-check', () => {
  const path = {
    tire: { turns: { perMile: 760, plusMinus: 2 } },
    stages: [
      { kind: 'final-drive', ratio: 3.7 },
      { kind: 'gear-pair', name: 'drive', teeth: { driving: 7, driven: 20 } },
    ],
  }
  test('default course of 1/100 mile: 10 turns are 1000 a mile', async () => {
    const { body } = await check({ cableTurns: 10 })
    expect(body.turns.perMile).toBeCloseTo(1000, 9)
    expect(codes(body)).toContain('distance-taken-as-exact')
  })
  // 760/mi x 3.70 x 7/20 = 984.20/mi, so 98.42 turns in a tenth of a mile.
  test('98.5 turns in a tenth of a mile agree with 760/mi x 3.70 x 7/20', async () => {
    const { body } = await check({ cableTurns: 98.5, distance: { mi: 0.1, plusMinus: 0.0002 }, ...path })
    expect(body.expected.perMile).toBeCloseTo(984.2, 9)
    expect(body.agreement).toBe('agrees')
    expect(body.ratioFound.value).toBeCloseTo(985 / 760, 9)
    expect(body.suspects).toBeUndefined()
  })
  test('93.7 turns do not, and point at 21 teeth in the driven gear (98.42 x 20/21 = 93.73)', async () => {
    const { body } = await check({
      cableTurns: 93.75,
      distance: { mi: 0.1, plusMinus: 0.0002 },
      ...path,
      head: HEAD,
    })
    expect(body.agreement).toBe('differs')
    expect(body.suspects[1]).toMatchObject({ pointer: '/stages/1', name: 'drive', drivenImplied: 21 })
    expect(body.odometerPerTrue.value).toBeCloseTo(0.9375, 9)
    // 937.5/984.2 is 4.745 % less; it was "turns -4.7 % less" until 2026-11.
    expect(body.notes.find(({ code }: { code: string }) => code === 'count-and-path-differ').text).toContain(
      'The cable turns 4.7 % less than',
    )
  })
  test('stages without a tire are refused', async () => {
    const { status, body } = await check({ cableTurns: 10, stages: path.stages })
    expect([status, body.code, body.errors[0].pointer]).toEqual([422, 'tire-needed', '#/tire'])
  })
  test('a path of pulses is refused: a cable turns', async () => {
    const { status, body } = await check({
      cableTurns: 10,
      tire: path.tire,
      stages: [{ kind: 'pulse-ring', pulsesPerTurn: 8 }],
    })
    expect([status, body.code]).toEqual([422, 'path-order'])
  })
})
