import { describe, expect, test } from 'vitest'
import { nextSetting } from '../../../src/domain/gauges/next-constant.js'
import { exact, plusMinus, uncertain } from '../../../src/domain/measure/figure.js'
import { noise } from '../../support/noise.js'

describe('nextSetting', () => {
  // EU 165/2014, Annex I: indicated over true is w/k. With k' = k b the same pulses read true.
  test('k = 4000/km reading 6.101 % high: k = 4244.04/km reads true', () => {
    expect(nextSetting('constant', exact(4000), exact(1.06101)).forTrue.value).toBeCloseTo(4244.04, 9)
  })
  test('a scaler of 17/20 reading 2 % high goes to 0.85/1.02', () => {
    expect(nextSetting('scaler-ratio', exact(0.85), exact(1.02)).forTrue.value).toBeCloseTo(0.85 / 1.02, 12)
  })
  test('the doubt of the scale is the doubt of the setting', () => {
    expect(plusMinus(nextSetting('constant', exact(1000), uncertain(1.05, 'b', 0.005)).forTrue)).toBeCloseTo(
      10,
      9,
    )
  })
  test.each(['constant', 'scaler-ratio'] as const)(
    '%s never under: the dial under-reads in 5 %% of drawn scales',
    (setting) => {
      const next = noise(9)
      const { neverUnder, neverUnderOverPercent } = nextSetting(
        setting,
        exact(1000),
        uncertain(1.05, 'b', 0.01),
      )
      const TRIALS = 20_000
      let under = 0
      for (let i = 0; i < TRIALS; i++) {
        const b = 1.05 + 0.01 * next()
        const reads = setting === 'constant' ? (b * 1000) / neverUnder : (b * neverUnder) / 1000
        if (reads < 1) under++
      }
      // 5 % at 20 000 draws has a standard deviation of 0.15 %.
      expect(under / TRIALS).toBeGreaterThan(0.044)
      expect(under / TRIALS).toBeLessThan(0.056)
      expect(neverUnderOverPercent).toBeCloseTo((164.485 * 0.01) / 1.05, 3)
    },
  )
})
