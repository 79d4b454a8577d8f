import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { comparatorThresholds, feedbackForHysteresisOhm } from '../../../src/domain/electrics/comparator.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const network = (r1: number, r2: number, r3: number) => ({
  toSupplyOhm: exact(r1),
  toGroundOhm: exact(r2),
  fromOutputOhm: exact(r3),
})
const parallel = (a: number, b: number) => (a * b) / (a + b)

describe('inverting comparator, R1 to the supply, R2 to ground, R3 from the output', () => {
  test('5 V, 10k, 10k, 100k: 55/21 and 50/21 V', () => {
    // R1||R3 = 100/11 k: VH = 5 x 10/(10 + 100/11) = 550/210; VL = 5 x (100/11)/(10 + 100/11) = 500/210.
    const { upperV, lowerV, hysteresisV, midpointV } = comparatorThresholds(
      exact(5),
      network(10e3, 10e3, 100e3),
      exact(5),
      exact(0),
    )
    expect(upperV.value).toBeCloseTo(55 / 21, 12)
    expect(lowerV.value).toBeCloseTo(50 / 21, 12)
    expect(hysteresisV.value).toBeCloseTo(5 / 21, 12)
    expect(midpointV.value).toBeCloseTo(2.5, 12)
  })

  test('is the textbook divider with R3 in parallel with one or the other resistor', () => {
    const ohms = fc.double({ min: 100, max: 1e6, noNaN: true })
    fc.assert(
      fc.property(ohms, ohms, ohms, (r1, r2, r3) => {
        const { upperV, lowerV } = comparatorThresholds(exact(5), network(r1, r2, r3), exact(5), exact(0))
        expect(upperV.value).toBeCloseTo((5 * r2) / (r2 + parallel(r1, r3)), 9)
        expect(lowerV.value).toBeCloseTo((5 * parallel(r2, r3)) / (r1 + parallel(r2, r3)), 9)
      }),
    )
  })

  test('the thresholds are proportional to the supply: 2 % of it is 2 % of both', () => {
    const supply = uncertain(5, 'supply', 0.05)
    const { upperV, hysteresisV } = comparatorThresholds(supply, network(10e3, 10e3, 100e3), supply, exact(0))
    expect(plusMinus(upperV) / upperV.value).toBeCloseTo(0.02, 12)
    expect(plusMinus(hysteresisV) / hysteresisV.value).toBeCloseTo(0.02, 12)
  })

  test('resistor uncertainties agree with finite differences', () => {
    const r1 = uncertain(10e3, 'R1', 100)
    const at = (ohm: number) =>
      comparatorThresholds(exact(5), network(ohm, 10e3, 100e3), exact(5), exact(0)).upperV.value
    const { upperV } = comparatorThresholds(
      exact(5),
      { ...network(10e3, 10e3, 100e3), toSupplyOhm: r1 },
      exact(5),
      exact(0),
    )
    expect(plusMinus(upperV)).toBeCloseTo(Math.abs(at(10_001) - at(9_999)) * 100, 6)
  })
})

describe('feedbackForHysteresisOhm()', () => {
  test('recovers the resistor of a hysteresis', () => {
    fc.assert(
      fc.property(fc.double({ min: 1e3, max: 1e7, noNaN: true }), (r3) => {
        const { hysteresisV } = comparatorThresholds(exact(5), network(10e3, 10e3, r3), exact(5), exact(0))
        expect(feedbackForHysteresisOhm(10e3, 5, hysteresisV.value) / r3).toBeCloseTo(1, 9)
      }),
    )
  })
})
