import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  type CalibrationReading,
  calibrate,
  type FitKind,
  indicatedWhenTrue,
  linearOutliers,
  trueWhenIndicated,
} from '../../../src/domain/gauges/calibration.js'
import { uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus, standardUncertainty } from '../../../src/domain/measure/uncertainty.js'
import { noise } from '../../support/noise.js'

const reading = (
  indicatedMPerS: number,
  trueMPerS: number,
  uIndicatedMPerS = 0,
  uTrueMPerS = 0,
): CalibrationReading => ({
  indicatedMPerS: uncertain(indicatedMPerS, 'indicated', uIndicatedMPerS),
  trueMPerS: uncertain(trueMPerS, 'true', uTrueMPerS),
})

describe('JCGM 100:2008: inverse use of a line', () => {
  const readings = [
    reading(10.9, 10),
    reading(16.2, 15),
    reading(21.6, 20),
    reading(26.6, 25),
    reading(32.2, 30),
  ]

  // Plain least squares by hand: mean x 20, mean y 21.5, Sxx = 100+25+0+25+100 = 250,
  // Sxy = -10(-10.6) - 5(-5.3) + 0 + 5(5.1) + 10(10.7) = 106 + 26.5 + 25.5 + 107 = 265, so b = 1.06, a = 21.5 - 21.2 = 0.3.
  // Residuals: 0, 0, 0.1, -0.2, 0.1; s² = 0.06/3 = 0.02.
  const calibration = calibrate('linear', readings)
  const s2 = 0.02
  const varB = s2 / 250
  const varA = s2 * (1 / 5 + 400 / 250)
  const covAB = -20 * varB
  const t95 = 3.182446305284263 // Student, 3 degrees of freedom (GUM table G.2: 3.18)

  test('slope and offset by hand: 1.06 and 0.3', () => {
    expect(calibration.scale.value).toBeCloseTo(1.06, 12)
    expect(calibration.offsetMPerS.value).toBeCloseTo(0.3, 12)
  })
  test('correlation r(a, b) = s_ab / (s_a s_b)', () => {
    expect(calibration.correlation).toBeCloseTo(covAB / Math.sqrt(varA * varB), 12)
  })
  test('uncertainties carry Student for 3 degrees of freedom', () => {
    expect(plusMinus(calibration.scale)).toBeCloseTo(t95 * Math.sqrt(varB), 6)
    expect(plusMinus(calibration.offsetMPerS)).toBeCloseTo(t95 * Math.sqrt(varA), 6)
  })
  test.each([5, 12, 21.5, 33, 50])(
    'u² = s_y²/b² + s_a²/b² + x² s_b²/b² + 2 x s_ab/b² when it shows %d',
    (y) => {
      const b = 1.06
      const x = (y - 0.3) / b
      const u2 = (s2 + varA + x * x * varB + 2 * x * covAB) / (b * b)
      const found = trueWhenIndicated(calibration, y)
      expect(found.value).toBeCloseTo(x, 10)
      expect(plusMinus(found)).toBeCloseTo(t95 * Math.sqrt(u2), 6)
    },
  )
  test('indicated when true: u² = s_y² + s_a² + x² s_b² + 2 x s_ab + b² u_x²', () => {
    const u2 = s2 + varA + 100 * varB + 20 * covAB
    expect(plusMinus(indicatedWhenTrue(calibration, 10))).toBeCloseTo(t95 * Math.sqrt(u2), 6)
    expect(plusMinus(indicatedWhenTrue(calibration, 10, 0.3))).toBeCloseTo(
      Math.hypot(t95 * Math.sqrt(u2), 2 * 1.06 * 0.3),
      6,
    )
  })
  test('a reading with its own uncertainty replaces the scatter', () => {
    const without = trueWhenIndicated(calibration, 21.5, 0)
    expect(standardUncertainty(without) * 2).toBeCloseTo((t95 * Math.sqrt(s2 / 5)) / 1.06, 6)
  })
})

describe('properties', () => {
  const anyReading = fc.record({
    v: fc.double({ min: 1, max: 60, noNaN: true }),
    e: fc.double({ min: -1, max: 1, noNaN: true }),
  })

  test('round trip: the true speed behind the indicated speed of a true speed is that speed', () => {
    fc.assert(
      fc.property(
        fc.array(anyReading, { minLength: 4, maxLength: 20 }),
        fc.double({ min: 5, max: 60, noNaN: true }),
        (points, v) => {
          fc.pre(Math.max(...points.map((p) => p.v)) - Math.min(...points.map((p) => p.v)) > 20)
          const readings = points.map((p) => reading(5 + 1.1 * p.v + p.e, p.v, 0.3, 0.1))
          const calibration = calibrate('linear', readings)
          const y = indicatedWhenTrue(calibration, v).value
          fc.pre(y > 0)
          expect(trueWhenIndicated(calibration, y).value).toBeCloseTo(v, 8)
        },
      ),
    )
  })

  test('readings ten times as large give the same scale and ten times the offset, so units do not matter', () => {
    fc.assert(
      fc.property(fc.array(anyReading, { minLength: 4, maxLength: 20 }), (points) => {
        fc.pre(Math.max(...points.map((p) => p.v)) - Math.min(...points.map((p) => p.v)) > 20)
        const make = (k: number) =>
          calibrate(
            'linear',
            points.map((p) => reading(k * (5 + 1.1 * p.v + p.e), k * p.v, k * 0.3, k * 0.1)),
          )
        expect(make(10).scale.value).toBeCloseTo(make(1).scale.value, 9)
        expect(make(10).offsetMPerS.value).toBeCloseTo(10 * make(1).offsetMPerS.value, 7)
      }),
    )
  })
})

describe('coverage of the corrections', () => {
  const TRIALS = 3000
  /** Share of new readings whose true speed lies within the stated uncertainty. */
  function coverage(kind: FitKind, offset: number, uncertainties: boolean): number {
    const next = noise(77)
    let hits = 0
    for (let trial = 0; trial < TRIALS; trial++) {
      const readings = [9, 13, 18, 22, 27, 31].map((v) =>
        reading(
          offset + 1.04 * v + 0.2 * next(),
          v + 0.1 * next(),
          uncertainties ? 0.2 : 0,
          uncertainties ? 0.1 : 0,
        ),
      )
      const v = 25
      const shown = offset + 1.04 * v + 0.2 * next()
      const found = trueWhenIndicated(calibrate(kind, readings), shown, uncertainties ? 0.2 : undefined)
      if (Math.abs(found.value - v) <= plusMinus(found)) hits++
    }
    return hits / TRIALS
  }
  // Without uncertainties the scatter holds the error of the true speed as well, so the figure may be a little wide; never narrow.
  test.each([
    ['linear', 0.7, true],
    ['linear', 0.7, false],
    ['proportional', 0, true],
    ['proportional', 0, false],
  ] as const)('%s, offset %d, uncertainties given %s: 94 % to 98 %', (kind, offset, uncertainties) => {
    expect(coverage(kind, offset, uncertainties)).toBeGreaterThan(0.94)
    expect(coverage(kind, offset, uncertainties)).toBeLessThan(0.98)
  })
})

describe('outliers', () => {
  test('one reading 5 m/s off among eight is marked, and the robust slope remains 1.05', () => {
    const readings = [8, 11, 14, 17, 20, 23, 26, 29].map((v, i) =>
      reading(1.05 * v + (i % 3) * 0.05 + (v === 17 ? 5 : 0), v),
    )
    const calibration = calibrate('linear', readings)
    expect(calibration.outliers).toEqual([3])
    expect(calibration.robust!.slope).toBeCloseTo(1.05, 1)
  })
  test.each([
    ['linear', 7],
    ['linear', 10],
    ['proportional', 5],
    ['proportional', 12],
  ] as const)(
    '%s, %d clean readings with their uncertainties: false alarms in fewer than 3 %% of sets',
    (kind, n) => {
      const next = noise(n)
      let alarms = 0
      for (let trial = 0; trial < 2000; trial++) {
        const points = Array.from({ length: n }, (_, i) => ({
          x: 8 + 3 * i,
          y: 8 + 3 * i + 0.3 * next(),
          ux: 0,
          uy: 0.3,
        }))
        if (linearOutliers(kind, points).outliers.length > 0) alarms++
      }
      expect(alarms / 2000).toBeLessThan(0.03)
    },
  )
  test('too few readings give no outliers', () => {
    expect(
      calibrate('linear', [reading(10, 10), reading(20, 20), reading(45, 30), reading(40, 40)]).outliers,
    ).toEqual([])
  })
})

describe('notes', () => {
  const codes = (kind: FitKind, readings: CalibrationReading[]) =>
    calibrate(kind, readings).notes.map(({ code }) => code)
  const speeds = [10, 15, 20, 25, 30]
  test('a proportional fit of a dial with an offset carries a note', () => {
    expect(
      codes(
        'proportional',
        speeds.map((v, i) => reading(v + 2 + 0.02 * (i % 2), v)),
      ),
    ).toContain('offset-significant')
  })
  test('a linear fit of a dial without an offset carries a note', () => {
    expect(
      codes(
        'linear',
        speeds.map((v, i) => reading(1.05 * v + 0.1 * ((i * 2) % 3), v)),
      ),
    ).toContain('offset-not-proven')
  })
  test('readings exactly on the line without uncertainty carry a caution', () => {
    expect(
      codes(
        'proportional',
        speeds.map((v) => reading(1.1 * v, v)),
      ),
    ).toContain('no-scatter')
  })
  test('an indicated speed that falls with true speed is rejected', () => {
    expect(() => calibrate('linear', [reading(30, 10), reading(20, 20), reading(10, 30)])).toThrow(
      expect.objectContaining({ code: 'reading-falls-with-speed' }),
    )
  })
})
