import { expect, test } from 'vitest'
import { heightAtAngleM, visualAngleRad } from '../../../src/domain/displays/visual-angle.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const ARCMIN_RAD = Math.PI / 10_800

// The chart for visual acuity 1.0 at 6 m has letters of 5 minutes of arc, 8.73 mm high (ISO 8596, from memory).
test('a letter of 8.73 mm at 6 m is seen at 5 minutes of arc', () => {
  expect(visualAngleRad(exact(8.73e-3), exact(6)).value / ARCMIN_RAD).toBeCloseTo(5, 2)
  expect(heightAtAngleM(5 * ARCMIN_RAD, exact(6)).value * 1000).toBeCloseTo(8.73, 2)
})

// For small angles α = h/d: 10 % of the distance is 10 % of the angle.
test('the uncertainty of the distance is relative that of the angle', () => {
  const angle = visualAngleRad(exact(5e-3), uncertain(0.8, 'distance', 0.04))
  expect(plusMinus(angle) / angle.value).toBeCloseTo(0.1, 4)
})

test('a character as high as the distance is seen at 2 arctan 1/2', () => {
  expect(visualAngleRad(exact(1), exact(1)).value).toBeCloseTo(2 * Math.atan(0.5), 12)
})
