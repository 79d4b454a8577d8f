import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { loadDumpClamp } from '../../../src/domain/electrics/load-dump.js'

describe('loadDumpClamp()', () => {
  const worst = { peakV: 101, baseV: 14, sourceOhm: 0.5, durationS: 0.4 }
  test('peak current is (101 - 36)/0.5 = 130 A', () => {
    expect(loadDumpClamp(worst, 36).peakCurrentA).toBe(130)
    expect(loadDumpClamp(worst, 36).peakPowerW).toBe(130 * 36)
  })
  test('energy is the integral of the exponential, summed in 200 000 steps', () => {
    const tau = 0.4 / Math.log(10)
    let energy = 0
    const step = 1e-5
    for (let t = step / 2; t < 2; t += step) {
      const volts = 14 + 87 * Math.exp(-t / tau)
      if (volts > 36) energy += 36 * ((volts - 36) / 0.5) * step
    }
    expect(loadDumpClamp(worst, 36).energyJ / energy).toBeCloseTo(1, 6)
  })
  test('a tenth of the rise remains after the duration', () => {
    // The width of the pulse is defined between its 10 % points.
    const justUnder = loadDumpClamp({ ...worst, durationS: 0.4 }, 14 + 8.7)
    const tau = 0.4 / Math.log(10)
    // Clamped at exactly 10 %, current flows for exactly the duration: E = Uc tau/R (a - b - b ln 10).
    expect(justUnder.energyJ).toBeCloseTo((22.7 * tau * (87 - 8.7 - 8.7 * Math.log(10))) / 0.5, 9)
  })
  test('a higher clamp absorbs less energy above a third of the peak, and none at the peak', () => {
    fc.assert(
      fc.property(fc.double({ min: 40, max: 100, noNaN: true }), (volts) => {
        expect(loadDumpClamp(worst, volts + 1).energyJ).toBeLessThan(loadDumpClamp(worst, volts).energyJ)
      }),
    )
    expect(loadDumpClamp(worst, 101).energyJ).toBe(0)
  })
  test('a clamp at the running voltage would always conduct', () => {
    expect(() => loadDumpClamp(worst, 14)).toThrow(expect.objectContaining({ code: 'limits-crossed' }))
  })
})
