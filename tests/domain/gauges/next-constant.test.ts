import { describe, expect, test } from 'vitest'
import { nearSettings, settingForTrue, settingNeverUnder } from '../../../src/domain/gauges/next-constant.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { noise } from '../../support/noise.js'

const KMH = 1 / 3.6
const TENS = Array.from({ length: 12 }, (_, i) => 10 * (i + 1) * KMH)

describe('settingForTrue', () => {
  // EU 165/2014, Annex I: indicated over true is w/k. With k' = k b the same pulses read true.
  test('k = 4000/km over-reads by 6.101 %: k = 4244.04/km reads true', () => {
    expect(settingForTrue('constant', exact(4000), exact(1.06101)).value).toBeCloseTo(4244.04, 9)
  })
  test('a scaler of 17/20 that over-reads by 2 % changes to 0.85/1.02', () => {
    expect(settingForTrue('scaler-ratio', exact(0.85), exact(1.02)).value).toBeCloseTo(0.85 / 1.02, 12)
  })
  test('the uncertainty of the scale is the uncertainty of the setting', () => {
    expect(plusMinus(settingForTrue('constant', exact(1000), uncertain(1.05, 'b', 0.005)))).toBeCloseTo(10, 9)
  })
})

describe('settingNeverUnder', () => {
  test.each(['constant', 'scaler-ratio'] as const)(
    '%s never under: the dial under-reads in 5 %% of drawn scales',
    (setting) => {
      const next = noise(9)
      const line = { indicatedPerTrue: uncertain(1.05, 'b', 0.01), offsetMPerS: exact(0) }
      const { value, overPercent } = settingNeverUnder(setting, exact(1000), line, TENS)!
      const TRIALS = 20_000
      let under = 0
      for (let i = 0; i < TRIALS; i++) {
        const b = 1.05 + 0.01 * next()
        const reads = setting === 'constant' ? (b * 1000) / value : (b * value) / 1000
        if (reads < 1) under++
      }
      // 5 % at 20 000 draws has a standard deviation of 0.15 %.
      expect(under / TRIALS).toBeGreaterThan(0.044)
      expect(under / TRIALS).toBeLessThan(0.056)
      // t (1 - z u/b) = 1 with z = 1.645 of the normal table; the uncertainty grows with the slope. It was 1 + z u/b until 2026-11, under in 5.3 %.
      const exactly = 100 / (1 - (1.644854 * 0.01) / 1.05) - 100
      expect(overPercent).toBeGreaterThanOrEqual(exactly)
      expect(overPercent).toBeLessThan(exactly + 0.01)
    },
  )

  // Wrong until 2026-11: the offset was left out, and 1000/km stayed 1000: 16 km/h at a true 20.
  test('a dial 4 km/h under everywhere: 1000/km changes to 1000/1.2, true at 20 km/h', () => {
    const line = { indicatedPerTrue: exact(1), offsetMPerS: exact(-4 * KMH) }
    const { value, overPercent } = settingNeverUnder('constant', exact(1000), line, TENS)!
    expect(value).toBeCloseTo(1000 / 1.2, 9)
    // 1.2 x 120 - 4 = 140 km/h at a true 120.
    expect(overPercent).toBeCloseTo(100 * (140 / 120 - 1), 9)
    expect(settingNeverUnder('scaler-ratio', exact(0.5), line, TENS)!.value).toBeCloseTo(0.6, 9)
  })

  test('uncertain scale and offset: at the worst speed it under-reads in at most 5 % of draws', () => {
    const next = noise(4)
    const a = -2 * KMH
    const line = { indicatedPerTrue: uncertain(0.98, 'b', 0.006), offsetMPerS: uncertain(a, 'a', 0.3 * KMH) }
    const { value } = settingNeverUnder('constant', exact(1000), line, TENS)!
    const TRIALS = 20_000
    const under = TENS.map(() => 0)
    for (let i = 0; i < TRIALS; i++) {
      const slope = ((0.98 + 0.006 * next()) * 1000) / value
      const offset = a + 0.3 * KMH * next()
      for (const [k, v] of TENS.entries()) if (slope * v + offset < v) under[k]!++
    }
    const worst = Math.max(...under.slice(1)) / TRIALS
    expect(worst).toBeLessThan(0.056)
    expect(worst).toBeGreaterThan(0.044)
  })

  test('negatively correlated scale and offset, as those of a fit, need a smaller guard band for a constant and for a ratio', () => {
    // Readings around 60 km/h fix the line there: b = 1 - d and a = d x 60 km/h for one d.
    const slope = uncertain(1, 'd', 0.01)
    const line = {
      indicatedPerTrue: slope,
      offsetMPerS: { value: 0, contributions: [{ input: 'd', part: -0.01 * 60 * KMH }] },
    }
    for (const setting of ['constant', 'scaler-ratio'] as const) {
      // At 60 km/h nothing is left; at 20 it is 0.01 x (60 - 20)/20 = 2 % of the speed: more than at 120, where it is 0.5.
      const { overPercent } = settingNeverUnder(setting, exact(1000), line, TENS)!
      expect(overPercent).toBeGreaterThan(1.64 * 2 * 0.98)
      expect(overPercent).toBeLessThan(1.66 * 2)
    }
  })

  test('the uncertainty of the present setting counts', () => {
    const line = { indicatedPerTrue: exact(1), offsetMPerS: exact(0) }
    const { value } = settingNeverUnder('constant', uncertain(1000, 'now', 10), line, TENS)!
    expect(value).toBeLessThan(1000 * (1 - 1.644 * 0.01))
  })

  test('a scale with an uncertainty of half its value has none', () => {
    const line = { indicatedPerTrue: uncertain(1, 'b', 0.6), offsetMPerS: exact(0) }
    expect(settingNeverUnder('constant', exact(1000), line, TENS)).toBeUndefined()
  })
})

describe('nearSettings', () => {
  const none = { minFraction: 0, maxFraction: 0 }
  const shown = (...args: Parameters<typeof nearSettings>) =>
    nearSettings(...args).map(({ numerator, denominator }) => `${numerator}/${denominator}`)

  // Wrong until 2026-11: 2/3 (10.7 % high), 1/2 (17 % low) and 1/1 (66 % high) stood behind it.
  test('56/93 is listed if it is the ratio, and 3/5 if the uncertainty covers its 0.36 %', () => {
    // 53/88 is 0.02 % high; 3/5 is 0.36 % low.
    expect(shown(exact(56 / 93), 99, none)).toEqual(['56/93', '53/88'])
    expect(shown(uncertain(56 / 93, 'b', 0.003), 99, none)).toEqual(['56/93', '53/88', '3/5'])
  })
  test('a scaler of small numbers gives the nearest ratio, however far', () => {
    expect(shown(exact(0.7), 1, none)).toEqual(['1/1'])
  })
  test('an offset counts towards the remaining error of a setting', () => {
    const [nearest] = nearSettings(exact(0.5), 99, { minFraction: -0.2, maxFraction: -0.04 })
    expect(nearest!.errorFraction).toBeCloseTo(-0.2, 12)
  })
})
