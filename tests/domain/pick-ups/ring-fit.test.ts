import { expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { seatIn } from '../../../src/domain/pick-ups/ring-fit.js'
import { noise } from '../../support/noise.js'

// A disk of radius R = c/2 = 0.15 mm: mean distance from its center 2R/3, mean square R²/2, by integration over the disk.
test('a loose ring sits 2/3 of half the clearance off on the average, with the spread of a disk', () => {
  const { eccentricityM, maxEccentricityM } = seatIn(exact(0.3e-3))
  expect(eccentricityM.value).toBeCloseTo(0.1e-3, 12)
  expect(plusMinus(eccentricityM)).toBeCloseTo(2 * 0.15e-3 * Math.sqrt(1 / 2 - 4 / 9), 12)
  expect(maxEccentricityM.value).toBeCloseTo(0.15e-3, 12)
})

// Clearance 0.2 ± 0.05 mm: at most 0.25 mm, half of it 0.125 mm.
test('the largest eccentricity is half of the largest clearance', () => {
  expect(seatIn(uncertain(0.2e-3, 'bore', 0.025e-3)).maxEccentricityM.value).toBeCloseTo(0.125e-3, 12)
  expect(seatIn(uncertain(-0.2e-3, 'bore', 0.025e-3)).maxEccentricityM.value).toBe(0)
})

/** Share of draws of clearance and place of which the eccentricity lies in the interval of the answer. */
function covered(clearanceM: number, u: number): number {
  const { eccentricityM } = seatIn(uncertain(clearanceM, 'bore', u))
  const half = plusMinus(eccentricityM)
  const normal = noise(11)
  let inside = 0
  for (let draw = 0; draw < 20_000; draw++) {
    const radius = Math.max(0, clearanceM + u * normal()) / 2
    // A point of the disk: two even coordinates, drawn again outside of it.
    let [x, y] = [1, 1]
    while (x * x + y * y > 1) [x, y] = [even(normal()), even(normal())]
    if (Math.abs(radius * Math.hypot(x, y) - eccentricityM.value) <= half) inside++
  }
  return inside / 20_000
}

/** From a normal number to one that is even from -1 to 1: the distribution function by its series in erf (Abramowitz and Stegun 7.1.26). */
function even(z: number): number {
  const t = 1 / (1 + (0.3275911 * Math.abs(z)) / Math.SQRT2)
  const series =
    ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t + 0.254829592) * t
  return Math.sign(z) * (1 - series * Math.exp((-z * z) / 2))
}

test.each([
  [0.3e-3, 0],
  [0.3e-3, 0.02e-3],
  [0.3e-3, 0.1e-3],
  [0.05e-3, 0.05e-3],
  [0, 0.05e-3],
])('draws of clearance %f ± 2 x %f m lie in the interval with 93 to 99 %%', (clearanceM, u) => {
  const share = covered(clearanceM, u)
  expect(share).toBeGreaterThan(0.93)
  expect(share).toBeLessThan(0.99)
})
