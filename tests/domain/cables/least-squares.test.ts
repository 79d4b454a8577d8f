import { linearRegression } from 'simple-statistics'
import { describe, expect, test } from 'vitest'
import { columnDependence, leastSquaresGain } from '../../../src/domain/cables/least-squares.js'

describe('leastSquaresGain(rows, uncertainties)', () => {
  test('gives the same line as an independent library', () => {
    const points: [number, number][] = [
      [0, 1.2],
      [1, 2.9],
      [2, 5.1],
      [4, 9.3],
      [7, 14.8],
    ]
    const { m, b } = linearRegression(points)
    const [intercept, slope] = leastSquaresGain(
      points.map(([x]) => [1, x]),
      points.map(() => 1),
    ).map((row) => row.reduce((sum, g, i) => sum + g * points[i]![1], 0))
    expect(intercept).toBeCloseTo(b, 12)
    expect(slope).toBeCloseTo(m, 12)
  })

  test('refuses columns that depend on each other', () => {
    expect(() =>
      leastSquaresGain(
        [
          [1, 1],
          [1, 1],
        ],
        [1, 1],
      ),
    ).toThrow(expect.objectContaining({ code: 'not-finite' }))
  })
})

describe('columnDependence(rows, columns)', () => {
  test('finds the ring: a+b, b+c, a+c are independent; adding a+b+c changes nothing', () => {
    const ring = [
      [1, 1, 0],
      [0, 1, 1],
      [1, 0, 1],
    ]
    expect(columnDependence(ring, 3)).toEqual({ basis: [0, 1, 2], nullVectors: [] })
    expect(columnDependence([...ring, [1, 1, 1]], 3).basis).toEqual([0, 1, 2])
  })

  test('null vectors change no reading', () => {
    const rows = [
      [1, 1, 1, 0],
      [0, 1, 1, 0],
    ]
    const { nullVectors } = columnDependence(rows, 4)
    expect(nullVectors).toHaveLength(2)
    for (const vector of nullVectors)
      for (const row of rows) expect(row.reduce((sum, x, i) => sum + x * vector[i]!, 0)).toBeCloseTo(0, 12)
  })
})
