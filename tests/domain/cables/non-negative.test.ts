import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { nonNegativeLeastSquares } from '../../../src/domain/cables/non-negative.js'

const deviation = (rows: number[][], y: number[], u: number[], solution: readonly number[]) =>
  rows.reduce(
    (sum, row, k) => sum + ((y[k]! - row.reduce((s, x, i) => s + x * solution[i]!, 0)) / u[k]!) ** 2,
    0,
  )

describe('nonNegativeLeastSquares(rows, readings, uncertainties, dependent)', () => {
  test('meets the Kuhn-Tucker conditions: zero slope above zero, no negative slope at zero', () => {
    fc.assert(
      fc.property(
        fc
          .integer({ min: 1, max: 6 })
          .chain((n) =>
            fc.array(
              fc.tuple(
                fc.array(fc.integer({ min: 0, max: 1 }), { minLength: n, maxLength: n }),
                fc.double({ min: 0, max: 1, noNaN: true }),
                fc.double({ min: 0.01, max: 1, noNaN: true }),
              ),
              { minLength: 1, maxLength: 12 },
            ),
          ),
        (readings) => {
          const rows = readings.map(([row]) => row)
          const y = readings.map(([, value]) => value)
          const u = readings.map(([, , uncertainty]) => uncertainty)
          const solution = nonNegativeLeastSquares(rows, y, u, true)
          for (const [i, value] of solution.entries()) {
            // Slope of ½·deviation, per unit of the curvature of that unknown.
            const curvature = rows.reduce((sum, row, k) => sum + (row[i]! / u[k]!) ** 2, 0)
            if (curvature === 0) continue
            const slope =
              rows.reduce(
                (sum, row, k) =>
                  sum + (row[i]! * (row.reduce((s, x, j) => s + x * solution[j]!, 0) - y[k]!)) / u[k]! ** 2,
                0,
              ) / curvature
            expect(value).toBeGreaterThanOrEqual(0)
            expect(slope).toBeGreaterThan(-1e-5)
            if (value > 1e-4) expect(Math.abs(slope)).toBeLessThan(1e-5)
          }
        },
      ),
      { numRuns: 500 },
    )
  })

  test('equals the unconstrained solution where that is above zero: 1 and 2 alone, 3.3 together', () => {
    // Normal equations 2a + b = 4.3, a + 2b = 5.3: a = 1.1, b = 2.1.
    const rows = [
      [1, 0],
      [0, 1],
      [1, 1],
    ]
    const solution = nonNegativeLeastSquares(rows, [1, 2, 3.3], [1, 1, 1], false)
    expect(solution[0]).toBeCloseTo(1.1, 12)
    expect(solution[1]).toBeCloseTo(2.1, 12)
    expect(deviation(rows, [1, 2, 3.3], [1, 1, 1], solution)).toBeCloseTo(0.03, 12)
  })
})
