import { describe, expect, test } from 'vitest'
import { agreement, countCheck, suspects } from '../../../src/domain/cables/count-check.js'
import { countUncertainty } from '../../../src/domain/measure/counting.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { noise } from '../../support/noise.js'

const MILE_M = 1609.344
const COURSE = exact(MILE_M / 100)

describe('countCheck over 1/100 mile', () => {
  test('10 turns are 1000 a mile; read to a quarter, plus or minus 20.4 (2 x 0.25/sqrt 6 of 10)', () => {
    const { turnsPerM } = countCheck([10], 0.25, COURSE)
    expect(turnsPerM.value * MILE_M).toBeCloseTo(1000, 9)
    expect(plusMinus(turnsPerM) * MILE_M).toBeCloseTo((2000 * 0.25) / Math.sqrt(6) / 10, 9)
  })
  test('four counts that agree halve it; the uncertainty of the distance stays (GUM 5.1.6, in quadrature)', () => {
    const { turnsPerM } = countCheck(
      [10, 10, 10, 10],
      0.25,
      uncertain(MILE_M / 100, 'tape', 0.01 * (MILE_M / 100)),
    )
    expect(plusMinus(turnsPerM) / 2 / turnsPerM.value).toBeCloseTo(
      Math.hypot(0.25 / Math.sqrt(6) / 2 / 10, 0.01),
      9,
    )
  })
  test('counts that differ by two turns get a larger uncertainty than a quarter turn gives', () => {
    const { turns, notes } = countCheck([9, 10, 11], 0.25, COURSE)
    // Mean of three with s = 1, Student for 2 degrees of freedom 4.303 (GUM table G.2: 4.30).
    expect(plusMinus(turns)).toBeCloseTo(4.302652729911275 / Math.sqrt(3), 5)
    expect(notes.map(({ code }) => code)).toContain('scatter-exceeds-uncertainty')
  })
})

describe('countUncertainty', () => {
  test('q/sqrt 6 is the standard deviation of counts of whole pulses between random places', () => {
    const next = noise(3)
    const errors: number[] = []
    for (let i = 0; i < 50_000; i++) {
      const start = Math.abs(next()) * 1000
      const way = 500 + Math.abs(next()) * 100
      errors.push(Math.floor(start + way) - Math.floor(start) - way)
    }
    const sd = Math.sqrt(errors.reduce((total, e) => total + e * e, 0) / errors.length)
    expect(Math.abs(sd / countUncertainty(1) - 1)).toBeLessThan(0.02)
  })
})

describe('agreement', () => {
  test.each([
    [1.02, 0.015, 'agrees'],
    [1.06, 0.02, 'differs'],
    [1.06, 0.04, 'not-proven'],
  ])('factor %d with u %d: %s', (value, u, expected) =>
    expect(agreement(uncertain(value, 'f', u))).toBe(expected),
  )
})

describe('suspects', () => {
  // 760/mile x 3.70 x 7/20 = 984.2/mile. With 21 teeth in place of 20 the cable turns 20/21 of that.
  const stages = [{ ratio: exact(3.7) }, { ratio: exact(0.35), teeth: { driving: 7, driven: 20 } }]
  test('a count of 20/21 of what 7/20 gives implies 21 teeth, or a final drive of 3.70 x 20/21', () => {
    const found = suspects(stages, uncertain(20 / 21, 'f', 0.01))
    expect(found[0]!.ratioImplied.value).toBeCloseTo((3.7 * 20) / 21, 12)
    expect(found[0]!.drivenImplied).toBeUndefined()
    expect(found[1]!.drivenImplied).toBe(21)
  })
  test('a count between whole teeth implies no gear', () => {
    expect(suspects(stages, uncertain(20 / 20.5, 'f', 0.002))[1]!.drivenImplied).toBeUndefined()
  })
})
