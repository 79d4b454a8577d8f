import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { geodesicM, offsetM } from '../../../src/domain/odometers/geodesic.js'

// Test set of the geodesic library of C. F. F. Karney (GeographicLib, test cases of its documentation): tests/vectors/geodesics.csv.
describe('geodesics of the GeographicLib test set, to 1e-6 m', () => {
  const rows = readFileSync(join(import.meta.dirname, '../../vectors/geodesics.csv'), 'utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map((line) => line.split(',').map(Number))
  test('holds ten of them', () => expect(rows.length).toBe(10))
  for (const [lat1, lon1, , lat2, lon2, , s12] of rows as [
    number,
    number,
    number,
    number,
    number,
    number,
    number,
  ][]) {
    test(`${lat1},${lon1} to ${lat2},${lon2}: ${s12} m`, () => {
      const from = { latDeg: lat1, lonDeg: lon1 }
      const to = { latDeg: lat2, lonDeg: lon2 }
      expect(Math.abs(geodesicM(from, to) - s12)).toBeLessThan(1e-6)
      expect(Math.abs(geodesicM(to, from) - s12)).toBeLessThan(1e-6)
    })
  }
})

describe('offsetM', () => {
  const place = fc.record({
    latDeg: fc.double({ min: -75, max: 75, noNaN: true }),
    lonDeg: fc.double({ min: -180, max: 180, noNaN: true }),
  })
  test('agrees with the geodesic to 3e-6 of it over a kilometer, across the date line as well', () => {
    fc.assert(
      fc.property(
        place,
        fc.double({ min: -0.009, max: 0.009, noNaN: true }),
        fc.double({ min: -0.009, max: 0.009, noNaN: true }),
        (from, dLat, dLon) => {
          fc.pre(Math.hypot(dLat, dLon) > 1e-4)
          const lon = from.lonDeg + dLon
          const to = { latDeg: from.latDeg + dLat, lonDeg: lon > 180 ? lon - 360 : lon }
          const { eastM, northM } = offsetM(from, to)
          expect(Math.abs(Math.hypot(eastM, northM) / geodesicM(from, to) - 1)).toBeLessThan(3e-6)
        },
      ),
    )
  })
  test('an impossible position is rejected', () => {
    expect(() => geodesicM({ latDeg: 91, lonDeg: 0 }, { latDeg: 0, lonDeg: 0 })).toThrow(
      expect.objectContaining({ code: 'out-of-range' }),
    )
  })
})
