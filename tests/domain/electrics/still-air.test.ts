import { describe, expect, test } from 'vitest'
import { awgDiameterM } from '../../../src/domain/electrics/conductor.js'
import { type EnclosureRequest, enclosure } from '../../../src/domain/electrics/enclosure.js'
import {
  heatTransferOf,
  staysCoolProbability,
  type TemperatureRange,
} from '../../../src/domain/electrics/still-air.js'
import { wire } from '../../../src/domain/electrics/wire.js'
import type { WireRequest } from '../../../src/domain/electrics/wire-setting.js'
import { normalCdf } from '../../../src/domain/measure/distributions.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { noise } from '../../support/noise.js'

const K = 273.15

/** Uniform numbers between 0 and 1, from the angles of pairs of normal numbers. */
function uniforms(seed: number) {
  const normal = noise(seed)
  return (from: number, to: number) =>
    from + (to - from) * (0.5 + Math.atan2(normal(), normal()) / (2 * Math.PI))
}

describe('an assumed heat transfer is uniform from 5 to 15, and the rise is proportional to 1/h: a normal rise gave "conforms" on the hot side (2026-11)', () => {
  test.each([
    // 40 °C + P/(h·A) <= 62.5 °C: 3 W from 200 cm² needs h >= 150/22.5 = 6.67, which is 0.8333 of the range.
    [3, 62.5, 5 / 6, 'not-proven'],
    // 2 W: h >= 100/22.5 = 4.44, below the range.
    [2, 62.5, 1, 'conforms'],
    // h >= 150/10.1 = 14.85: 0.0149 of it.
    [3, 50.1, (15 - 150 / 10.1) / 10, 'does-not-conform'],
  ])('%d W in a box of parts for %d °C', (watts, celsius, probability, result) => {
    const { parts } = enclosure({
      ambientK: exact(K + 40),
      powerW: exact(watts),
      surfaceM2: exact(0.02),
      partsRatedToK: exact(K + celsius),
    })
    expect(Math.abs(parts!.probability - probability)).toBeLessThan(1e-3)
    expect(parts!.result).toBe(result)
  })

  test('a material is judged in the same way: PETG, 77 °C within 3, minus 10 K, over the same box', () => {
    const petg = enclosure({
      ambientK: exact(K + 40),
      powerW: exact(3),
      surfaceM2: exact(0.02),
      materials: [{ kind: 'petg' }],
    }).materials[0]!
    const draw = uniforms(3)
    let holds = 0
    for (let i = 0; i < 100_000; i++) if (40 + 150 / draw(5, 15) <= draw(64, 70)) holds++
    // Normal in place of uniform for the glass transition moves it by less than a hundredth.
    expect(Math.abs(petg.probability - holds / 100_000)).toBeLessThan(0.01)
  })

  const plain: WireRequest = {
    supplyV: exact(12),
    currentA: exact(7.3),
    lengthM: exact(3),
    size: { awg: 18 },
    returnPath: 'wire',
  }
  // Gauge, current: shares of the ranges that are assumed, drawn: h 5 to 15, 20 to 60 °C around, 0.25 to 0.8 mm, make -2 to +8 %.
  const drawn = (awg: number, amperes: number) => {
    const draw = uniforms(awg)
    const diameter = awgDiameterM(awg)
    let holds = 0
    for (let i = 0; i < 100_000; i++) {
      const ohm = (draw(0.98, 1.08) * 0.017241e-6) / ((Math.PI / 4) * diameter ** 2)
      const gives = draw(5, 15) * Math.PI * (diameter + 2 * draw(0.25e-3, 0.8e-3)) * (85 - draw(20, 60))
      if (gives >= amperes ** 2 * ohm * (1 + 0.00393 * 65)) holds++
    }
    return holds / 100_000
  }
  test.each([
    [18, 7.3, 'not-proven'],
    [18, 6, 'conforms'],
    [14, 14, 'not-proven'],
  ])('gauge %i at %d A', (awg, amperes, result) => {
    const { insulation, sizes } = wire({
      ...plain,
      currentA: exact(amperes),
      size: { awg },
    })
    // The surroundings, wide and uniform, are taken as normal: up to a hundredth and a half, to the safe side.
    expect(Math.abs(insulation.probability - drawn(awg, amperes))).toBeLessThan(0.015)
    expect(insulation.result).toBe(result)
    const row = sizes.find((size) => size.awg === awg)
    if (result !== 'conforms') expect(row?.suits).toBe(false)
  })

  test('a fuse protects if the wire can carry its rating', () => {
    const { fuse } = wire({ ...plain, currentA: exact(5), fuseA: 7.5 })
    expect(Math.abs(fuse!.probability - drawn(18, 7.5))).toBeLessThan(0.015)
  })
})

test('the probability is the mean over the range of h, summed in 20 000 steps', () => {
  const shares = [0.003, 0.03, 0.1, 0.3]
  const uniform = uniforms(5)
  for (let k = 0; k < 40; k++) {
    const [gives, heat] = [uniform(0.05, 1), uniform(0, 15)]
    const [uGives, uHeat] = [gives * shares[k % 4]!, heat * (shares[Math.floor(k / 4) % 5] ?? 0)]
    let sum = 0
    for (let i = 0; i < 20_000; i++) {
      const h = 5 + (10 * (i + 0.5)) / 20_000
      sum += normalCdf((h * gives - heat) / Math.hypot(h * uGives, uHeat))
    }
    const probability = staysCoolProbability(
      uncertain(gives, 'gives', uGives),
      uncertain(heat, 'heat', uHeat),
      heatTransferOf(undefined, []),
    )
    expect(Math.abs(probability - sum / 20_000)).toBeLessThan(3e-5)
  }
})

describe('a 95 % range covers 95 %, hot side included; value ± covered 87 %, all misses on the hot side (2026-11)', () => {
  const box = (more: Partial<EnclosureRequest> = {}): EnclosureRequest => ({
    ambientK: exact(K + 40),
    powerW: exact(1),
    surfaceM2: exact(0.02),
    ...more,
  })

  test('1 W from 200 cm² in still air: 5 K, from 3.38 to 9.56; it was ± 2.89', () => {
    // P/(h·A) with h anywhere from 5 to 15: Φ(2) = 0.97725 of it lies below 14.7725 and above 5.2275 W/(m² K).
    const { riseK, riseRange, boxTemperatureRange, materials } = enclosure(box({ marginK: exact(0) }))
    const part = 10 * 0.0227501319
    expect(riseK.value).toBeCloseTo(5, 12)
    expect(riseRange.minK).toBeCloseTo(1 / (0.02 * (15 - part)), 5)
    expect(riseRange.maxK).toBeCloseTo(1 / (0.02 * (5 + part)), 5)
    expect(riseRange.plusMinusK).toBeCloseTo(riseRange.maxK - 5, 9)
    expect(boxTemperatureRange.maxK).toBeCloseTo(K + 40 + riseRange.maxK, 5)
    expect(boxTemperatureRange.minK).toBeCloseTo(K + 40 + riseRange.minK, 5)
    // A margin is short where the box is hot.
    const own = enclosure(
      box({ marginK: exact(0), materials: [{ name: 'x', glassTransitionK: exact(K + 60) }] }),
    ).materials[0]!
    expect(own.marginRange.minK).toBeCloseTo(20 - riseRange.maxK, 5)
    expect(own.marginRange.maxK).toBeCloseTo(20 - riseRange.minK, 5)
    expect(materials).toHaveLength(11)
  })

  test('with a known heat transfer the range is symmetric, and ± is unchanged', () => {
    const known = enclosure(box({ heatTransferWPerM2K: exact(10), powerW: uncertain(1, 'power', 0.05) }))
    // 5 K within 2 x 5 %.
    expect(known.riseRange).toEqual({ minK: 4.5, maxK: 5.5, plusMinusK: 0.5 })
    const cold = enclosure({ ambientK: uncertain(K + 40, 'around', 2) })
    expect(cold.boxTemperatureRange).toEqual({ minK: K + 36, maxK: K + 44, plusMinusK: 4 })
  })

  const DRAWS = 20_000
  /** Shares of draws that lie in the range, and within the ± of the estimate. */
  function coverage(value: number, range: TemperatureRange, draw: () => number) {
    let inside = 0
    let within = 0
    for (let i = 0; i < DRAWS; i++) {
      const one = draw()
      if (one >= range.minK && one <= range.maxK) inside++
      if (Math.abs(one - value) <= range.plusMinusK) within++
    }
    return [(100 * inside) / DRAWS, (100 * within) / DRAWS] as const
  }
  const covers = (shares: readonly number[]) => shares.every((share) => share >= 93 && share <= 99)

  test.each([
    // Surroundings [°C, u], power [W, u], surface [m², share], heat transfer [W/(m² K), u] where it is given.
    [40, 0, 1, 0, 0.02, 0, undefined],
    [40, 2, 1, 0.1, 0.02, 0.02, undefined],
    [70, 5, 0.5, 0.02, 0.03, 0.05, undefined],
    [20, 0.5, 5, 0.5, 0.02, 0, undefined],
    [40, 1, 2, 0.1, 0.02, 0.02, [10, 2.5]],
    [40, 0, 2, 0, 0.02, 0, [8, 1]],
    [40, 3, 0.1, 0, 0.02, 0, undefined],
  ] as const)('box at %d ± 2·%d °C, %d ± 2·%d W, %d m² within %d, h %j', (c, uC, w, uW, m2, share, h) => {
    const request = box({
      ambientK: uncertain(K + c, 'surroundings: temperature', uC),
      powerW: uncertain(w, 'power inside', uW),
      surfaceM2: uncertain(m2, 'surface', share * m2),
      materials: [{ name: 'x', glassTransitionK: uncertain(K + 110, 'glass', 2) }],
      ...(h === undefined ? {} : { heatTransferWPerM2K: uncertain(h[0], 'heat transfer', h[1]) }),
    })
    const { boxTemperatureK, boxTemperatureRange, riseK, riseRange, materials } = enclosure(request)
    const [uniform, normal] = [uniforms(11), noise(12)]
    const rise = () =>
      (w + uW * normal()) /
      (m2 * (1 + share * normal()) * (h === undefined ? uniform(5, 15) : h[0] + h[1] * normal()))
    expect(coverage(riseK.value, riseRange, rise)).toSatisfy(covers)
    expect(
      coverage(boxTemperatureK.value, boxTemperatureRange, () => K + c + uC * normal() + rise()),
    ).toSatisfy(covers)
    const { marginK, marginRange } = materials[0]!
    expect(
      coverage(marginK.value, marginRange, () => 110 + 2 * normal() - 10 - (c + uC * normal() + rise())),
    ).toSatisfy(covers)
  })

  test.each([
    [18, 7.3],
    [18, 3],
    [14, 14],
    [24, 2],
  ])('the conductor of gauge %i at %d A', (awg, amperes) => {
    const { conductorTemperatureK, conductorTemperatureRange } = wire({
      supplyV: exact(12),
      currentA: exact(amperes),
      lengthM: exact(3),
      size: { awg },
      returnPath: 'wire',
      ambientK: uncertain(K + 40, 'surroundings: temperature', 3),
    })
    const [uniform, normal, diameter] = [uniforms(awg), noise(awg + 1), awgDiameterM(awg)]
    const conductor = () => {
      const q = (amperes ** 2 * uniform(0.98, 1.08) * 0.017241e-6) / ((Math.PI / 4) * diameter ** 2)
      const g = uniform(5, 15) * Math.PI * (diameter + 2 * uniform(0.25e-3, 0.8e-3))
      return (g * (K + 40 + 3 * normal()) + q * (1 - 0.00393 * (K + 20))) / (g - 0.00393 * q)
    }
    expect(coverage(conductorTemperatureK.value, conductorTemperatureRange, conductor)).toSatisfy(covers)
  })

  test('a heat transfer whose uncertainty includes zero gives no maximum temperature, and is refused by its field', () => {
    expect(() => enclosure(box({ heatTransferWPerM2K: uncertain(10, 'heat transfer', 6) }))).toThrow(
      expect.objectContaining({
        code: 'out-of-range',
        context: expect.objectContaining({ pointer: '/heatTransfer' }),
      }),
    )
    expect(() => enclosure(box({ surfaceM2: uncertain(0.02, 'surface', 0.02) }))).toThrow(
      expect.objectContaining({ context: expect.objectContaining({ pointer: '/surface' }) }),
    )
  })
})

test('a given heat transfer has its own uncertainty: (10·0.45 - 3)/(2·0.45) = 1.667, 0.9522 in a table', () => {
  const given = heatTransferOf(uncertain(10, 'h', 2), [])
  expect(staysCoolProbability(exact(0.45), exact(3), given)).toBeCloseTo(0.9522, 3)
})
