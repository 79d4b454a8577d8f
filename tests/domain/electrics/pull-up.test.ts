import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  largestPullUpOhm,
  type PullUpRequest,
  pullUp,
  smallestPullUpOhm,
} from '../../../src/domain/electrics/pull-up.js'
import { exact, plusMinus, uncertain } from '../../../src/domain/measure/figure.js'

const lead = (lengthM: number): PullUpRequest => ({
  supplyV: exact(5),
  mode: 'fast',
  bus: {
    by: 'lead',
    lengthM: exact(lengthM),
    capacitancePerLengthFPerM: exact(100e-12),
    devices: 2,
    capacitancePerDeviceF: exact(10e-12),
  },
})

describe('UM10204, 7.1: Rp(max) = tr/(0.8473 Cb), Rp(min) = (VDD - VOL)/IOL', () => {
  test('5 V, 0.4 V, 3 mA: 4.6 V over 3 mA', () => {
    expect(smallestPullUpOhm(exact(5), exact(0.4), exact(3e-3)).value).toBeCloseTo(4600 / 3, 9)
  })
  test('300 ns, 200 pF: 1770.33 ohm', () => {
    // 300e-9 / (ln(7/3) x 200e-12); the specification prints ln(7/3) as 0.8473.
    expect(largestPullUpOhm(exact(300e-9), exact(200e-12)).value).toBeCloseTo(1770.33, 2)
    expect(300e-9 / (0.8473 * 200e-12)).toBeCloseTo(1770.33, 1)
  })
  test('an RC rise simulated in small steps takes the allowed time from 30 to 70 % at the largest pull-up', () => {
    const ohm = largestPullUpOhm(exact(300e-9), exact(200e-12)).value
    const tau = ohm * 200e-12
    const step = tau / 20_000
    let level = 0
    let at30 = 0
    let time = 0
    // Midpoint steps of dv/dt = (1 - v)/tau, an integration that knows nothing of ln(7/3).
    while (level < 0.7) {
      const half = level + ((1 - level) / tau) * (step / 2)
      level += ((1 - half) / tau) * step
      time += step
      if (at30 === 0 && level >= 0.3) at30 = time
    }
    expect((time - at30) / 300e-9).toBeCloseTo(1, 3)
  })
})

describe('pullUp()', () => {
  test('recommends the only E24 value in 1533 to 1770 ohm, 1.6 kohm, whose rise time is 271.13 ns', () => {
    const result = pullUp({
      supplyV: exact(5),
      mode: 'fast',
      bus: { by: 'capacitance', capacitanceF: exact(200e-12) },
    })
    expect(result.feasible).toBe(true)
    expect(result.recommended?.resistanceOhm.value).toBe(1600)
    // 1600 x 200e-12 x ln(7/3) and 4.6/1600.
    expect(result.recommended?.riseTimeS.value).toBeCloseTo(320e-9 * Math.log(7 / 3), 15)
    expect(result.recommended?.lowCurrentA.value).toBeCloseTo(4.6 / 1600, 12)
    expect(result.recommended?.result).toBe('conforms')
    expect(result.remedies).toEqual([])
  })

  test('says that a range narrower than a step of E24 holds no value', () => {
    // Rmin 1000 ohm, Rmax 1050 ohm: E24 has 1.0 and 1.1.
    const result = pullUp({
      supplyV: exact(3.41),
      lowLevelV: exact(0.4),
      sinkCurrentA: exact(3e-3),
      riseTimeS: exact(1050 * 200e-12 * Math.log(7 / 3)),
      mode: 'fast',
      bus: { by: 'capacitance', capacitanceF: exact(200e-12) },
    })
    expect(result.minOhm.value).toBeCloseTo(1003.33, 1)
    expect(result.feasible).toBe(true)
    expect(result.recommended).toBeUndefined()
    expect(result.notes.map(({ code }) => code)).toContain('no-preferred-value')
  })

  test('4 m of lead at 5 V leaves nothing in fast mode, and says how much to shorten', () => {
    const result = pullUp(lead(4))
    expect(result.feasible).toBe(false)
    // Largest capacitance 300e-9/(ln(7/3) x 1533.33) = 230.91 pF; less 20 pF of inputs, at 100 pF/m: 2.1091 m.
    const longest = (300e-9 / (Math.log(7 / 3) * (4.6 / 3e-3)) - 20e-12) / 100e-12
    expect(longest).toBeCloseTo(2.1091, 4)
    const [shorten, slower] = result.remedies
    expect(shorten?.kind).toBe('shorten-lead')
    expect(shorten?.leadM?.value).toBeCloseTo(longest, 9)
    expect(shorten?.shortenByM?.value).toBeCloseTo(4 - longest, 9)
    expect(slower).toMatchObject({ kind: 'slower-mode', mode: 'standard' })
    expect(result.notes.map(({ code }) => code)).toContain('bus-capacitance-above-limit')
  })

  test('every figure of a remedy, applied, makes a range', () => {
    const given = lead(4)
    const remedies = Object.fromEntries(pullUp(given).remedies.map((remedy) => [remedy.kind, remedy]))
    const less = 1 - 1e-9
    const shorter = remedies['shorten-lead']!.leadM!.value * less
    expect(pullUp(lead(shorter)).feasible).toBe(true)
    expect(pullUp(lead(shorter * 1.001)).feasible).toBe(false)
    const stronger = remedies['stronger-driver']!.sinkCurrentA!.value
    expect(pullUp({ ...given, sinkCurrentA: exact(stronger / less) }).feasible).toBe(true)
    const lower = remedies['lower-supply']!.supplyV!.value
    expect(pullUp({ ...given, supplyV: exact(lower * less) }).feasible).toBe(true)
    expect(pullUp({ ...given, mode: remedies['slower-mode']!.mode! }).feasible).toBe(true)
  })

  test('does not promise a lead when the inputs alone are too much, nor a slower mode below standard', () => {
    const result = pullUp({
      ...lead(1),
      mode: 'standard',
      riseTimeS: exact(100e-9),
      bus: { by: 'lead', lengthM: exact(1), devices: 40, capacitancePerDeviceF: exact(10e-12) },
    })
    const kinds = result.remedies.map(({ kind }) => kind)
    expect(kinds).toContain('less-capacitance')
    expect(kinds).not.toContain('shorten-lead')
    expect(kinds).not.toContain('slower-mode')
  })

  test('below 2 V the low level is a fifth of the supply at 2 mA (UM10204, from memory)', () => {
    const result = pullUp({
      supplyV: exact(1.8),
      mode: 'fast',
      bus: { by: 'capacitance', capacitanceF: exact(50e-12) },
    })
    expect(result.minOhm.value).toBeCloseTo((0.8 * 1.8) / 2e-3, 9)
  })

  test('carries the doubt of the capacitance: 20 % of it is 20 % of the largest pull-up, and 1.6 kohm is not proven', () => {
    const result = pullUp({
      supplyV: exact(5),
      mode: 'fast',
      tolerancePercent: 0,
      bus: { by: 'capacitance', capacitanceF: uncertain(200e-12, 'bus', 20e-12) },
    })
    expect(plusMinus(result.maxOhm) / result.maxOhm.value).toBeCloseTo(0.2, 12)
    // (300 - 271.13) ns over 27.11 ns is 1.065 standard deviations: 0.8566 in a table of the normal distribution.
    expect(result.recommended?.probability).toBeCloseTo(0.8566, 3)
    expect(result.recommended?.result).toBe('not-proven')
    expect(result.notes.map(({ code }) => code)).toContain('pull-up-not-proven')
  })

  test('an unmeasured lead is assumed at 100 pF/m and says so', () => {
    const { assumptions } = pullUp({
      supplyV: exact(3.3),
      mode: 'fast',
      bus: { by: 'lead', lengthM: exact(0.5) },
    })
    expect(assumptions.map(({ field }) => field)).toEqual([
      '/lowLevel',
      '/sinkCurrent',
      '/riseTime',
      '/bus/capacitancePerLength',
      '/bus/devices',
      '/bus/capacitancePerDevice',
      '/tolerancePercent',
    ])
  })

  test.each([
    // 3.3 V, 150 pF: 966.67 to 2360.4 ohm, middle 1510.6. Margin over its doubt, both at R:
    // (300 ns - R x 127.1 pF)/(R x 0.8473 u), in standard deviations.
    [30e-12, 1500, 'conforms'], // 2.87
    [75e-12, 1200, 'conforms'], // 1.93; 1300 ohm has 1.63, short of 1.645
    [150e-12, 1000, 'not-proven'], // 1.36, and less for every larger one
  ] as const)('with %f F of doubt it recommends %i ohm, %s', (u, ohm, result) => {
    const { recommended } = pullUp({
      supplyV: exact(3.3),
      mode: 'fast',
      bus: { by: 'capacitance', capacitanceF: uncertain(150e-12, 'bus', u) },
    })
    expect(recommended?.resistanceOhm.value).toBe(ohm)
    expect(recommended?.result).toBe(result)
  })

  test('a fitted resistor must keep both limits: either one broken is enough', () => {
    const result = (ohm: number) =>
      pullUp({
        supplyV: exact(5),
        mode: 'fast',
        bus: { by: 'capacitance', capacitanceF: exact(200e-12) },
        fittedOhm: exact(ohm),
      }).fitted
    expect(result(1500)).toMatchObject({ result: 'does-not-conform', probability: 0 })
    expect(result(1800)).toMatchObject({ result: 'does-not-conform', probability: 0 })
    expect(result(1700)).toMatchObject({ result: 'conforms', probability: 1 })
    // (4.6 V)²/1700 ohm.
    expect(result(1700)?.powerW.value).toBeCloseTo(4.6 ** 2 / 1700, 12)
  })

  test('fast-plus asks for outputs of 20 mA, whatever sinks less: 4.6 V over 20 mA', () => {
    const modes = pullUp(lead(1)).modes
    expect(modes.map(({ minOhm }) => Math.round(minOhm.value))).toEqual([1533, 1533, 230])
  })

  const at = (more: Partial<PullUpRequest>, picofarad: number) =>
    pullUp({
      supplyV: exact(5),
      mode: 'fast',
      bus: { by: 'capacitance', capacitanceF: exact(picofarad * 1e-12) },
      ...more,
    })

  test('advises no slower mode that the output at hand cannot drive: all modes were taken with 3 mA', () => {
    const result = at({ sinkCurrentA: exact(1e-3) }, 300)
    // 4.6 V over 1 mA; standard mode leaves 1000 ns/(ln(7/3) x 300 pF) = 3934 ohm; fast-plus asks for 20 mA.
    const rows = result.modes.map(({ mode, minOhm, feasible }) => [mode, Math.round(minOhm.value), feasible])
    expect(rows).toEqual([
      ['standard', 4600, false],
      ['fast', 4600, false],
      ['fast-plus', 230, true],
    ])
    expect(result.modes[0]?.maxOhm.value).toBeCloseTo(1000e-9 / (Math.log(7 / 3) * 300e-12), 6)
    expect(result.remedies.map(({ kind }) => kind)).not.toContain('slower-mode')
    // At 1.2 mA it is 3833 ohm, and standard mode is open.
    expect(at({ sinkCurrentA: exact(1.2e-3) }, 300).remedies.map(({ kind }) => kind)).toContain('slower-mode')
  })

  test('a resistor is within its tolerance, not at its value: 1.6 kohm of 5 % was said to conform for sure', () => {
    const five = at({ tolerancePercent: 5 }, 200).recommended!
    // Sinks: 3 mA less 4.6 V/1600 = 2.875 mA, u 5/√3 % of it, 0.08299 mA: 1.506 standard deviations, 0.9340 in a table. Rises:
    // 300 less 271.13 ns, u 7.827 ns: 3.689, 0.9999. Both: 0.9339 at least.
    expect(five.resistanceOhm.value).toBe(1600)
    expect(plusMinus(five.resistanceOhm)).toBeCloseTo((2 * 80) / Math.sqrt(3), 9)
    expect(five.probability).toBeCloseTo(0.9339, 3)
    expect(five.result).toBe('not-proven')
    const usual = at({}, 200)
    expect(usual.recommended?.result).toBe('conforms')
    expect(usual.assumptions).toContainEqual(
      expect.objectContaining({ field: '/tolerancePercent', value: '1 %' }),
    )
    expect(at({ tolerancePercent: 1 }, 200).recommended).toEqual(usual.recommended)
  })

  test('the row of the mode asked for is the range of the answer, with the rise time and the current given', () => {
    for (const result of [
      at({ riseTimeS: exact(150e-9) }, 100),
      at({ supplyV: exact(1.8) }, 100),
      at({ sinkCurrentA: exact(10e-3) }, 100),
    ]) {
      expect(result.modes[1]).toMatchObject({
        minOhm: result.minOhm,
        maxOhm: result.maxOhm,
        feasible: result.feasible,
      })
    }
    expect(at({ riseTimeS: exact(150e-9) }, 100).modes.map(({ riseTimeS }) => riseTimeS)).toEqual([
      1000e-9, 150e-9, 120e-9,
    ])
    // Up to 2 V: 0.8 x 1.8 V over 2 mA, not over 3.
    expect(at({ supplyV: exact(1.8) }, 100).modes[0]?.minOhm.value).toBeCloseTo(720, 9)
  })

  test('says what it assumed for the low level, in volts', () => {
    const low = (volts: number) =>
      pullUp({
        supplyV: exact(volts),
        mode: 'fast',
        bus: { by: 'capacitance', capacitanceF: exact(50e-12) },
      }).assumptions[0]
    expect(low(3.3)).toMatchObject({ field: '/lowLevel', value: '0.4 V' })
    expect(low(1.5)).toMatchObject({ field: '/lowLevel', value: '0.3 V, a fifth of the supply' })
  })

  test('warns of a bus that leaves its housing: more than a meter', () => {
    const warned = (metres: number) => pullUp(lead(metres)).notes.some(({ code }) => code === 'long-bus-lead')
    expect(warned(1)).toBe(false)
    expect(warned(1.01)).toBe(true)
  })

  test('refuses a supply that does not exceed the low level', () => {
    expect(() =>
      pullUp({
        supplyV: exact(0.4),
        lowLevelV: exact(0.4),
        mode: 'fast',
        bus: { by: 'capacitance', capacitanceF: exact(1e-10) },
      }),
    ).toThrow(expect.objectContaining({ code: 'limits-crossed' }))
  })

  test('a longer lead never widens the range', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.01, max: 20, noNaN: true }),
        fc.double({ min: 0.001, max: 5, noNaN: true }),
        (metres, more) => {
          expect(pullUp(lead(metres + more)).maxOhm.value).toBeLessThan(pullUp(lead(metres)).maxOhm.value)
        },
      ),
    )
  })
})
