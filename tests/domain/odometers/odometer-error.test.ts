import { describe, expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { odometerError } from '../../../src/domain/odometers/odometer-error.js'
import { builtInSizes } from '../../../src/domain/tires/size-table.js'

const rolling = (m: number, u = 0) => ({
  rollingCircumferenceM: uncertain(m, 'tire: rolling circumference', u),
})
const codes = ({ notes }: { notes: Iterable<{ code: string }> }) => [...notes].map(({ code }) => code)

describe('odometerError', () => {
  test('a tire of 1.9 m in place of one of 2 m: 2/1.9 times the distance, and 19 of 20 km true', () => {
    const found = odometerError(
      { tire: rolling(1.9), calibratedFor: rolling(2), indicatedM: exact(20_000) },
      builtInSizes,
    )
    expect(found.odometerPerTrue.value).toBeCloseTo(2 / 1.9, 12)
    expect(found.errorPercent).toBeCloseTo(100 * (2 / 1.9 - 1), 10)
    expect(found.trueDistanceM!.value).toBeCloseTo(19_000, 8)
  })
  // JCGM 100:2008, 5.1.6: relative uncertainties of a quotient of independent quantities add in quadrature.
  test('the uncertainties of two tires are independent', () => {
    const found = odometerError({ tire: rolling(2, 0.01), calibratedFor: rolling(2, 0.01) }, builtInSizes)
    expect(plusMinus(found.odometerPerTrue)).toBeCloseTo(2 * Math.hypot(0.005, 0.005), 12)
  })
  test('by the path: 0.5 turns a meter by 2 at a constant of 0.8 counts 1.25 times the distance', () => {
    const found = odometerError(
      {
        tire: { turnsPerM: exact(0.5) },
        stages: [{ kind: 'final-drive', ratio: exact(2) }],
        head: { input: 'turns', constantPerM: exact(0.8), unit: 'kmh' },
      },
      builtInSizes,
    )
    expect(found.odometerPerTrue.value).toBeCloseTo(1.25, 12)
  })
  test('a rule that does not limit the odometer gives a note and no verdict; the law on odometers is always named', () => {
    const found = odometerError(
      { tire: rolling(2), calibratedFor: rolling(2), rules: ['un-r39', 'de-odometer'] },
      builtInSizes,
    )
    expect(found.verdicts.map(({ rule }) => rule)).toEqual(['de-odometer'])
    expect(codes(found)).toEqual(['odometer-law', 'rule-not-judged'])
  })
})
