import { describe, expect, test } from 'vitest'
import { exact, statedExact, uncertain } from '../../../src/domain/measure/figure.js'
import { measuredTrack } from '../../../src/domain/odometers/measured-track.js'

/** A kilometer and more to the north in steps of 100 m, with a second gone by each 5 s. */
const points = (count: number, fromDeg = 48) =>
  Array.from({ length: count }, (_, i) => ({ latDeg: fromDeg + 0.0009 * i, lonDeg: 11, timeS: 5 * i }))
const codes = ({ notes }: { notes: Iterable<{ code: string }> }) => [...notes].map(({ code }) => code)

describe('measuredTrack', () => {
  const segments = [points(30)]
  test('a count over the track is the count per length', () => {
    const found = measuredTrack({ segments, accuracyM: 1, counted: { pulses: 5000 } })
    expect(found.pulsesPerM!.value * found.lengthM.value).toBeCloseTo(5000, 6)
    expect(found).not.toHaveProperty('turnsPerM')
    expect(found.budget.map(({ input }) => input)).toContain('pulses: resolution of the count')
  })
  test('the odometer: its distance over the length, with the note on the law', () => {
    const indicatedM = uncertain(2700, 'odometer distance', 10)
    const found = measuredTrack({ segments, accuracyM: 1, counted: { indicatedM } })
    expect(found.odometerPerTrue!.value).toBeCloseTo(2700 / found.lengthM.value, 12)
    expect(found.odometerErrorPercent).toBeCloseTo(100 * (2700 / found.lengthM.value - 1), 9)
    expect(codes(found).at(-1)).toBe('odometer-law')
    expect(codes(found)).not.toContain('odometer-taken-as-exact')
  })
  test('a distance of the odometer without uncertainty carries a note', () => {
    const found = measuredTrack({ segments, accuracyM: 1, counted: { indicatedM: exact(2700) } })
    expect(codes(found).slice(-2)).toEqual(['odometer-taken-as-exact', 'odometer-law'])
    const stated = measuredTrack({ segments, accuracyM: 1, counted: { indicatedM: statedExact(2700) } })
    expect(codes(stated)).not.toContain('odometer-taken-as-exact')
  })
  test('where the car moved in a gap there is no result of the count', () => {
    const gap = [points(30), points(30, 48.1).map((one) => ({ ...one, timeS: one.timeS + 1000 }))]
    const found = measuredTrack({ segments: gap, accuracyM: 1, counted: { pulses: 5000 } })
    expect(found.gaps[0]!.moved).toBe(true)
    expect(found).not.toHaveProperty('pulsesPerM')
    expect(codes(found)).toContain('moved-while-not-recorded')
  })
  test('without an accuracy 8 m is assumed, with a note and its source', () => {
    const found = measuredTrack({ segments })
    expect(codes(found)).toContain('accuracy-assumed')
    expect([...found.sources]).toContain('gps-position')
  })
})
