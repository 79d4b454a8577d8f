import { describe, expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { type RingMountingRequest, ringMounting } from '../../../src/domain/pick-ups/ring-mounting.js'

const whole: RingMountingRequest = {
  boreM: uncertain(0.0403, 'ring: bore', 0.01e-3),
  shaftM: exact(0.04),
  outsideDiameterM: exact(0.1),
  pulsesPerTurn: 8,
}
const result = (request: RingMountingRequest) =>
  Object.fromEntries(ringMounting(request).checks.map(({ kind, result }) => [kind, result]))
const notes = (request: RingMountingRequest) => ringMounting(request).notes.map(({ code }) => code)

describe('a whole ring', () => {
  // Expected: c/3 = 0.1 mm, run-out 0.2 mm, over the radius of 50 mm 0.002. Largest: (0.3 + 0.02)/2 = 0.16 mm.
  test('goes on with clearance, and runs out by twice its eccentricity', () => {
    const found = ringMounting(whole)
    expect(result(whole)).toEqual({ 'goes-on': 'conforms' })
    expect(found.clearanceM.value).toBeCloseTo(0.3e-3, 12)
    expect(found.runOutM.value).toBeCloseTo(0.2e-3, 9)
    expect(found.maxRunOutM.value).toBeCloseTo(0.32e-3, 12)
    expect(found.ring).toEqual({ pulsesPerTurn: 8, eccentricity: expect.closeTo(0.002, 9) })
    expect(found.joint).toBeUndefined()
    expect(found.budget[0]!.input).toBe('ring: place within the clearance')
  })
  // 39.98 ± 0.02 in 40 mm: one standard uncertainty of 0.01 mm twice below zero, 0.0228 of the normal distribution.
  test('with interference does not slide on, and has no eccentricity', () => {
    const tight = { ...whole, boreM: uncertain(0.03998, 'ring: bore', 0.01e-3) }
    expect(ringMounting(tight).checks[0]!.probability).toBeCloseTo(0.0228, 4)
    expect(result(tight)).toEqual({ 'goes-on': 'does-not-conform' })
    expect(notes(tight)).toContain('ring-interference')
  })
})

describe('a ring in halves', () => {
  const halves: RingMountingRequest = {
    ...whole,
    boreM: exact(0.04),
    joint: { count: 2, removedM: exact(0.001) },
  }
  test('that suits its shaft grips, keeps its pitch and centers itself', () => {
    expect(result(halves)).toEqual({ grips: 'conforms', 'joint-pitch': 'conforms' })
    expect(ringMounting(halves).maxEccentricityM.value).toBe(0)
    expect(ringMounting(halves).ring).toEqual({ pulsesPerTurn: 8, eccentricity: 0, joint: 0 })
  })
  // Left open by 1.5 mm on a bore 0.3 mm too large: 0.3 + 2 · 0.5/pi = 0.618 mm of clearance.
  test('that is not closed does not grip', () => {
    const open = {
      ...halves,
      boreM: exact(0.0403),
      joint: { count: 2, removedM: exact(0.001), gapM: exact(0.0015) },
    }
    expect(ringMounting(open).clearanceM.value).toBeCloseTo((0.3 + 1 / Math.PI) / 1000, 12)
    expect(result(open)).toMatchObject({ grips: 'does-not-conform' })
    expect(notes(open)).toContain('ring-does-not-grip')
  })
})

describe('cautions', () => {
  const spin = { shaftSpeedPerS: 100, widthM: exact(0.01), material: { kind: 'steel' } } as const
  test('every answer warns of a ring that is thrown, and of what was not computed', () => {
    expect(notes(whole)).toEqual(expect.arrayContaining(['ring-thrown', 'spin-not-checked']))
    expect(notes({ ...whole, spin })).not.toContain('spin-not-checked')
  })
  // Steel: 7850 · (pi · 0.1 · 100)² = 7.75 MPa, four times that is 31 of 235 MPa. At 600/s 279 MPa.
  test('the stress is compared with the strength by the factor', () => {
    expect(result({ ...whole, spin })).toMatchObject({ 'hoop-stress': 'conforms' })
    const fast = { ...whole, spin: { ...spin, shaftSpeedPerS: 600 } }
    expect(result(fast)).toMatchObject({ 'hoop-stress': 'does-not-conform' })
    expect(notes(fast)).toContain('ring-may-burst')
  })
  // Cross-section 10 · (100 - 40)/2 mm2: 7.7476 MPa · 300 mm2 = 2324 N.
  test('the force that a joint holds is said in the caution', () => {
    const joint = { count: 2, removedM: exact(0.001), gapM: exact(0.001) }
    const found = ringMounting({ ...whole, boreM: exact(0.04), joint, spin })
    expect(found.notes.find(({ code }) => code === 'joint-screws')!.text).toContain('2320 N')
  })
})
