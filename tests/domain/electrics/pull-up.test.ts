import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { pullUp } from '../../../src/domain/electrics/pull-up.js'
import type { PullUpRemedy } from '../../../src/domain/electrics/pull-up-remedies.js'
import {
  largestPullUpOhm,
  type PullUpRequest,
  smallestPullUpOhm,
} from '../../../src/domain/electrics/two-wire-bus.js'
import { exact, type Figure, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const lead = (lengthM: number): PullUpRequest => ({
  supplyV: exact(5),
  mode: 'fast',
  bus: {
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
    // Midpoint steps of dv/dt = (1 - v)/tau, an integration independent of ln(7/3).
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
  const at = (more: Partial<PullUpRequest>, picofarad: number) =>
    pullUp({
      supplyV: exact(5),
      mode: 'fast',
      bus: { capacitanceF: exact(picofarad * 1e-12) },
      ...more,
    })

  test('recommends the only E24 value in 1533 to 1770 ohm, 1.6 kohm, whose rise time is 271.13 ns', () => {
    const result = pullUp({
      supplyV: exact(5),
      mode: 'fast',
      bus: { capacitanceF: exact(200e-12) },
    })
    expect(result.feasible).toBe(true)
    expect(result.recommended?.resistanceOhm.value).toBe(1600)
    // 1600 x 200e-12 x ln(7/3) and 4.6/1600.
    expect(result.recommended?.riseTimeS.value).toBeCloseTo(320e-9 * Math.log(7 / 3), 15)
    expect(result.recommended?.lowCurrentA.value).toBeCloseTo(4.6 / 1600, 12)
    expect(result.recommended?.result).toBe('conforms')
    expect(result.remedies).toEqual([])
  })

  test('reports that a range narrower than a step of E24 contains no value', () => {
    // Rmin 1000 ohm, Rmax 1050 ohm: E24 has 1.0 and 1.1.
    const result = pullUp({
      supplyV: exact(3.41),
      lowLevelV: exact(0.4),
      sinkCurrentA: exact(3e-3),
      riseTimeS: exact(1050 * 200e-12 * Math.log(7 / 3)),
      mode: 'fast',
      bus: { capacitanceF: exact(200e-12) },
    })
    expect(result.minOhm.value).toBeCloseTo(1003.33, 1)
    expect(result.feasible).toBe(true)
    expect(result.recommended).toBeUndefined()
    expect(result.notes.map(({ code }) => code)).toContain('no-preferred-value')
  })

  test('4 m of lead at 5 V leaves no range in fast mode, and the remedy says how much to shorten', () => {
    const result = pullUp(lead(4))
    expect(result.feasible).toBe(false)
    // The range begins at 4.6 V/3 mA = 1533.33 ohm; 1.6 kohm is the next standard value. Within 1 %, u 0.01/√3 of it, it is proven to rise
    // in 300 ns while 1.645 u leaves room: 300e-9/(ln(7/3) x 1600 x 1.0095) = 219.2 pF; less 20 pF of inputs, at 100 pF/m: 1.992 m.
    const longest =
      (300e-9 / (Math.log(7 / 3) * 1600 * (1 + (1.645 * 0.01) / Math.sqrt(3))) - 20e-12) / 100e-12
    expect(longest).toBeCloseTo(1.992, 3)
    const [shorten] = result.remedies
    expect(shorten?.kind).toBe('shorten-lead')
    expect(shorten?.leadM).toBe(1.99)
    expect(shorten?.shortenByM?.value).toBeCloseTo(2.01, 9)
    expect(shorten?.text).toContain('to at most 1.99 m')
    expect(shorten?.text).toContain('1600 ohm')
    // 420 pF are beyond the 400 pF of any slower mode as well; 390 pF of 3.7 m are not: 1000 ns leave 3026 ohm.
    expect(result.remedies.map(({ kind }) => kind)).toEqual(['shorten-lead', 'separate-segments'])
    expect(pullUp(lead(3.7)).remedies[1]).toMatchObject({ kind: 'slower-mode', mode: 'standard' })
    expect(result.notes.map(({ code }) => code)).toContain('bus-capacitance-above-limit')
  })

  test('suggests no lead length if the inputs alone are too much, and no mode slower than standard', () => {
    const result = pullUp({
      ...lead(1),
      mode: 'standard',
      riseTimeS: exact(100e-9),
      bus: { lengthM: exact(1), devices: 40, capacitancePerDeviceF: exact(10e-12) },
    })
    const kinds = result.remedies.map(({ kind }) => kind)
    expect(kinds).toContain('less-capacitance')
    expect(kinds).not.toContain('shorten-lead')
    expect(kinds).not.toContain('slower-mode')
  })

  describe('each remedy, applied and recomputed, recommends a proven resistor (2026-11: half of them did not)', () => {
    const solved = (request: PullUpRequest) => {
      const { recommended, notes } = pullUp(request)
      return (
        recommended?.result === 'conforms' &&
        !notes.some(({ code }) => code === 'bus-capacitance-above-limit')
      )
    }
    const known = ({ contributions }: Figure, value: number): Figure => ({ value, contributions })

    /** The request with the values of a remedy instead of its own: with the same uncertainty, or exact. */
    function applied(request: PullUpRequest, remedy: PullUpRemedy, as: typeof known): PullUpRequest {
      const out: { -readonly [K in keyof PullUpRequest]: PullUpRequest[K] } = { ...request }
      const { bus } = request
      if (remedy.leadM !== undefined && 'lengthM' in bus)
        out.bus = { ...bus, lengthM: as(bus.lengthM, remedy.leadM) }
      if (remedy.capacitanceF !== undefined)
        out.bus = {
          capacitanceF: as(pullUp(request).busCapacitanceF, remedy.capacitanceF),
        }
      if (remedy.mode !== undefined) {
        out.mode = remedy.mode
        delete out.riseTimeS
      }
      if (remedy.sinkCurrentA !== undefined)
        out.sinkCurrentA = as(request.sinkCurrentA ?? exact(0), remedy.sinkCurrentA)
      if (remedy.supplyV !== undefined) out.supplyV = as(request.supplyV, remedy.supplyV)
      return out
    }

    const share = fc.constantFrom(0, 0.01, 0.05, 0.1)
    const figure = (name: string, min: number, max: number) =>
      fc
        .tuple(fc.double({ min, max, noNaN: true }), share)
        .map(([value, part]) => uncertain(value, name, value * part))
    const requests = fc.record(
      {
        supplyV: figure('supply', 1, 15),
        mode: fc.constantFrom('standard' as const, 'fast' as const, 'fast-plus' as const),
        bus: fc.oneof(
          fc.record({
            by: fc.constant('capacitance' as const),
            capacitanceF: figure('bus', 20e-12, 2000e-12),
          }),
          fc.record({
            by: fc.constant('lead' as const),
            lengthM: figure('lead', 0.02, 15),
            devices: fc.integer({ min: 0, max: 60 }),
          }),
        ),
        lowLevelV: figure('low', 0.1, 0.6),
        sinkCurrentA: figure('sink', 0.5e-3, 25e-3),
        riseTimeS: figure('rise', 30e-9, 2000e-9),
        tolerancePercent: fc.constantFrom(0, 1, 5),
      },
      { requiredKeys: ['supplyV', 'mode', 'bus'] },
    )

    test('for any bus without a range', () => {
      const counts = new Map<string, number>()
      const failed: unknown[] = []
      fc.assert(
        fc.property(requests, (request) => {
          fc.pre(request.lowLevelV === undefined || request.supplyV.value > request.lowLevelV.value)
          for (const remedy of pullUp(request).remedies) {
            if (remedy.kind === 'separate-segments') continue
            counts.set(remedy.kind, (counts.get(remedy.kind) ?? 0) + 1)
            for (const as of [known, (_: Figure, value: number) => exact(value)]) {
              const changed = applied(request, remedy, as)
              if (!solved(changed)) failed.push({ request, remedy, changed })
            }
          }
        }),
        { numRuns: 1500, seed: 7 },
      )
      expect(failed.slice(0, 2)).toEqual([])
      for (const kind of [
        'shorten-lead',
        'less-capacitance',
        'slower-mode',
        'stronger-driver',
        'lower-supply',
      ])
        expect(counts.get(kind), kind).toBeGreaterThan(20)
    })

    test('and is no larger than necessary: one step less does not suffice', () => {
      const less: Record<string, (request: PullUpRequest, remedy: PullUpRemedy) => PullUpRequest> = {
        'shorten-lead': (request, { leadM }) => ({
          ...request,
          bus: { ...request.bus, lengthM: exact(leadM! + 0.01) } as PullUpRequest['bus'],
        }),
        'stronger-driver': (request, { sinkCurrentA }) => ({
          ...request,
          sinkCurrentA: exact(sinkCurrentA! - 1e-4),
        }),
        'lower-supply': (request, { supplyV }) => ({ ...request, supplyV: exact(supplyV! + 0.1) }),
      }
      const tried: string[] = []
      for (const remedy of pullUp(lead(3)).remedies) {
        const change = less[remedy.kind]
        if (change === undefined) continue
        tried.push(remedy.kind)
        expect(solved(change(lead(3), remedy)), remedy.kind).toBe(false)
      }
      expect(tried).toEqual(Object.keys(less))
    })

    test('a load above the limit of the mode is reduced to it: 600 pF in fast-plus mode was reduced only to 566 (2026-11)', () => {
      const { remedies } = at({ mode: 'fast-plus', supplyV: exact(5.4), riseTimeS: exact(130e-9) }, 620)
      // 5 V/20 mA is 250 ohm, 130 ns/(ln(7/3) x 250 ohm) = 613.7 pF, above the 550 pF of the mode (UM10204, from memory).
      expect(remedies.find(({ kind }) => kind === 'less-capacitance')?.capacitanceF).toBe(550e-12)
      // A stronger output or a lower supply leaves the load as it is.
      expect(remedies.map(({ kind }) => kind)).toEqual(['less-capacitance', 'separate-segments'])
    })

    test('a supply at or below 2 V is judged by its own levels: at most 2.0 V was advised, although 2 mA at a drop of 1.6 V apply (2026-11)', () => {
      // 300 ns/(ln(7/3) x 390 pF) = 907.9 ohm. Above 2 V: 0.4 V + 3 mA x 907.9 ohm = 3.12 V. At 1.8 V: 1.44 V/2 mA = 720 ohm.
      const low = at({}, 390).remedies.find(({ kind }) => kind === 'lower-supply')
      // 820 ohm is a standard value and allows 0.4 V + 2.46 V = 2.86 V, less the 1 % of the resistor: 2.8 V (2.93 mA of 3).
      expect(low?.supplyV).toBe(2.8)
      expect(low?.text).not.toContain('weaker outputs')
      // 130 ns: 393.4 ohm. Above 2 V at least 1.7 V/3 mA = 567 ohm; below, 0.4 V/mA x V: 0.9 V, lower than logic is used with.
      expect(at({ riseTimeS: exact(130e-9) }, 390).remedies.map(({ kind }) => kind)).not.toContain(
        'lower-supply',
      )
      // 200 ns: 605.3 ohm. 2.1 V: 566.7 ohm, and 560 is too small; 2 V at 2 mA: 800 ohm; at 1.4 V 560 ohm draws 2 mA to
      // the last digit, which is not proven.
      expect(
        at({ riseTimeS: exact(200e-9) }, 390).remedies.find(({ kind }) => kind === 'lower-supply')?.supplyV,
      ).toBe(1.3)
    })
  })

  test('below 2 V the low level is a fifth of the supply at 2 mA (UM10204, from memory)', () => {
    const result = pullUp({
      supplyV: exact(1.8),
      mode: 'fast',
      bus: { capacitanceF: exact(50e-12) },
    })
    expect(result.minOhm.value).toBeCloseTo((0.8 * 1.8) / 2e-3, 9)
  })

  test('propagates the uncertainty of the capacitance: 20 % of it is 20 % of the largest pull-up, and 1.6 kohm is not proven', () => {
    const result = pullUp({
      supplyV: exact(5),
      mode: 'fast',
      tolerancePercent: 0,
      bus: { capacitanceF: uncertain(200e-12, 'bus', 20e-12) },
    })
    expect(plusMinus(result.maxOhm) / result.maxOhm.value).toBeCloseTo(0.2, 12)
    // (300 - 271.13) ns over 27.11 ns is 1.065 standard deviations: 0.8566 in a table of the normal distribution.
    expect(result.recommended?.probability).toBeCloseTo(0.8566, 3)
    expect(result.recommended?.result).toBe('not-proven')
    expect(result.notes.map(({ code }) => code)).toContain('pull-up-not-proven')
  })

  test('an unmeasured lead is assumed to have 100 pF/m, and the answer says so', () => {
    const { assumptions } = pullUp({
      supplyV: exact(3.3),
      mode: 'fast',
      bus: { lengthM: exact(0.5) },
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
    // 3.3 V, 150 pF: 966.67 to 2360.4 ohm, middle 1510.6. Margin over its uncertainty, both at R:
    // (300 ns - R x 127.1 pF)/(R x 0.8473 u), in standard deviations.
    [30e-12, 1500, 'conforms'], // 2.87
    [75e-12, 1200, 'conforms'], // 1.93; 1300 ohm has 1.63, short of 1.645
    [150e-12, 1000, 'not-proven'], // 1.36, and less for every larger one
  ] as const)('with %f F of uncertainty it recommends %i ohm, %s', (u, ohm, result) => {
    const { recommended } = pullUp({
      supplyV: exact(3.3),
      mode: 'fast',
      bus: { capacitanceF: uncertain(150e-12, 'bus', u) },
    })
    expect(recommended?.resistanceOhm.value).toBe(ohm)
    expect(recommended?.result).toBe(result)
  })

  test('a fitted resistor must keep both limits: breaking either one is enough to fail', () => {
    const result = (ohm: number) =>
      pullUp({
        supplyV: exact(5),
        mode: 'fast',
        bus: { capacitanceF: exact(200e-12) },
        fittedOhm: exact(ohm),
      }).fitted
    expect(result(1500)).toMatchObject({ result: 'does-not-conform', probability: 0 })
    expect(result(1800)).toMatchObject({ result: 'does-not-conform', probability: 0 })
    expect(result(1700)).toMatchObject({ result: 'conforms', probability: 1 })
    // (4.6 V)²/1700 ohm.
    expect(result(1700)?.powerW.value).toBeCloseTo(4.6 ** 2 / 1700, 12)
  })

  test('fast-plus requires outputs of 20 mA: 4.6 V over 20 mA', () => {
    const modes = pullUp(lead(1)).modes
    expect(modes.map(({ minOhm }) => Math.round(minOhm.value))).toEqual([1533, 1533, 230])
  })

  test('suggests no slower mode that the present output cannot drive: all modes were computed with 3 mA (2026-11)', () => {
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
    // At 1.3 mA it is 3538 ohm, 3.6 kohm is a standard value, and standard mode is possible.
    expect(at({ sinkCurrentA: exact(1.3e-3) }, 300).remedies.map(({ kind }) => kind)).toContain('slower-mode')
  })

  test('a resistor is anywhere within its tolerance: 1.6 kohm with 5 % was said to conform with certainty (2026-11)', () => {
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

  test('the row of the requested mode is the range of the answer, with the given rise time and current', () => {
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

  test('lists the assumed low level in volts', () => {
    const low = (volts: number) =>
      pullUp({
        supplyV: exact(volts),
        mode: 'fast',
        bus: { capacitanceF: exact(50e-12) },
      }).assumptions[0]
    expect(low(3.3)).toMatchObject({ field: '/lowLevel', value: '0.4 V' })
    expect(low(1.5)).toMatchObject({ field: '/lowLevel', value: '0.3 V, a fifth of the supply' })
  })

  test('warns about a bus that leaves its housing: more than a meter', () => {
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
        bus: { capacitanceF: exact(1e-10) },
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
