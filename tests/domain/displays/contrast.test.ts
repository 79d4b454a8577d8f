import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  bestTransmittance,
  contrastMarginCdPerM2,
  contrastRatio,
  type DisplayInLight,
  servingTransmittances,
} from '../../../src/domain/displays/contrast.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { randomFrom } from '../../../tools/random.js'

const light = (lit: number, unlit: number, behind: number, front: number): DisplayInLight => ({
  litCdPerM2: exact(lit),
  unlitCdPerM2: exact(unlit),
  behindCdPerM2: exact(behind),
  frontCdPerM2: exact(front),
})

describe('a filter of transmittance 1/4 over 800 and 8 cd/m2, 1600 cd/m2 reflected behind it and 20 by its front', () => {
  const display = light(800, 8, 1600, 20)

  test('contrast: (200 + 100 + 20)/(2 + 100 + 20) = 320/122, without a filter 2420/1628', () => {
    expect(contrastRatio(display, exact(0.25)).value).toBeCloseTo(320 / 122, 12)
    expect(contrastRatio(display, exact(1)).value).toBeCloseTo(2420 / 1628, 12)
  })

  test('the margin over 2:1 is 320 - 2 · 122 = 76 cd/m2', () => {
    expect(contrastMarginCdPerM2(display, exact(0.25), 2).value).toBeCloseTo(76, 10)
  })

  // b = 792/(2 - 1) - 8 = 784; roots of 1600 τ² - 784 τ + 20: (784 ± √(614656 - 128000))/3200.
  test('2:1 is reached from 0.0270 to 0.4630', () => {
    const { min, max } = servingTransmittances(display, 2)!
    expect(min.value).toBeCloseTo((784 - Math.sqrt(486_656)) / 3200, 12)
    expect(max.value).toBeCloseTo((784 + Math.sqrt(486_656)) / 3200, 12)
  })

  test('the best filter is √(20/1600)', () => {
    expect(bestTransmittance(display).value).toBeCloseTo(Math.sqrt(1 / 80), 12)
  })
})

test('at both ends of the range the contrast is the one asked for; between them it is higher', () => {
  const luminance = (max: number) => fc.double({ min: 0.5, max, noNaN: true })
  fc.assert(
    fc.property(luminance(5000), luminance(2000), luminance(100), (lit, behind, front) => {
      const display = light(lit, lit / 100, behind, front)
      const range = servingTransmittances(display, 2)
      if (range === undefined) {
        return contrastRatio(display, bestTransmittance(display)).value < 2
      }
      const { min, max } = range
      const at = (transmittance: number) => contrastRatio(display, exact(transmittance)).value
      return (
        Math.abs(at(min.value) - 2) < 1e-6 &&
        (max.value === 1 ? at(1) >= 2 - 1e-9 : Math.abs(at(max.value) - 2) < 1e-6) &&
        at(Math.sqrt(min.value * max.value)) >= 2 - 1e-9
      )
    }),
  )
})

test('a front that reflects as much as the display leaves no filter better than none', () => {
  expect(bestTransmittance(light(500, 0, 100, 100)).value).toBe(1)
})

test('no filter serves where the front alone outshines the display', () => {
  expect(servingTransmittances(light(100, 0, 1000, 50), 2)).toBeUndefined()
})

// JCGM 101, propagation of distributions by draws: 95.45 % of them lie within 2 u of a nearly linear function.
test('of 4000 draws, 93 to 99 % lie within the stated uncertainty', () => {
  const random = randomFrom(7)
  const given = {
    lit: [800, 40],
    unlit: [8, 1],
    behind: [1600, 90],
    front: [20, 1.5],
    filter: [0.25, 0.008],
  } as const
  const drawn = (key: keyof typeof given) => given[key][0] + given[key][1] * random.normal()
  const figure = (key: keyof typeof given) => uncertain(given[key][0], key, given[key][1])
  const display = {
    litCdPerM2: figure('lit'),
    unlitCdPerM2: figure('unlit'),
    behindCdPerM2: figure('behind'),
    frontCdPerM2: figure('front'),
  }
  const ratio = contrastRatio(display, figure('filter'))
  const range = servingTransmittances(display, 2)!
  const inside = [0, 0, 0]
  const draws = 4000
  for (let i = 0; i < draws; i++) {
    const [lit, unlit, behind, front, filter] = [
      drawn('lit'),
      drawn('unlit'),
      drawn('behind'),
      drawn('front'),
      drawn('filter'),
    ]
    const ambient = behind * filter * filter + front
    const b = lit - 2 * unlit
    const root = Math.sqrt(b * b - 4 * behind * front)
    const results = [
      [(filter * lit + ambient) / (filter * unlit + ambient), ratio],
      [(b - root) / (2 * behind), range.min],
      [(b + root) / (2 * behind), range.max],
    ] as const
    for (const [k, [value, stated]] of results.entries())
      if (Math.abs(value - stated.value) <= plusMinus(stated)) inside[k]!++
  }
  expect(inside.filter((count) => count < 0.93 * draws || count > 0.99 * draws)).toEqual([])
})
