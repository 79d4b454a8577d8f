import { describe, expect, test } from 'vitest'
import { enclosure } from '../../../src/domain/electrics/enclosure.js'
import { heatTransferOf, staysCoolProbability } from '../../../src/domain/electrics/still-air.js'
import { awgDiameterM, type WireRequest, wire } from '../../../src/domain/electrics/wire.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { noise } from '../../support/noise.js'

const K = 273.15

/** Numbers between 0 and 1 that are as likely everywhere: pairs of normal ones by their angle. */
function uniforms(seed: number) {
  const normal = noise(seed)
  return (from: number, to: number) =>
    from + (to - from) * (0.5 + Math.atan2(normal(), normal()) / (2 * Math.PI))
}

describe('an assumed heat transfer is anywhere from 5 to 15, and the rise goes with 1/h: a normal rise said "conforms" on the hot side', () => {
  test.each([
    // 40 °C + P/(h·A) <= 62.5 °C: 3 W from 200 cm² needs h >= 150/22.5 = 6.67, which is 0.8333 of the range.
    [3, 62.5, 5 / 6, 'not-proven'],
    // 2 W: h >= 100/22.5 = 4.44, below the range.
    [2, 62.5, 1, 'conforms'],
    // h >= 150/10.1 = 14.85: 0.0149 of it.
    [3, 50.1, (15 - 150 / 10.1) / 10, 'does-not-conform'],
  ])('%d W in a box of parts for %d °C', (watts, celsius, probability, result) => {
    const { parts } = enclosure({
      surroundingK: exact(K + 40),
      powerW: exact(watts),
      surfaceM2: exact(0.02),
      partsRatedToK: exact(K + celsius),
    })
    expect(Math.abs(parts!.probability - probability)).toBeLessThan(1e-3)
    expect(parts!.result).toBe(result)
  })

  test('a material is judged alike: PETG, 77 °C within 3, less 10 K, over the same box', () => {
    const petg = enclosure({
      surroundingK: exact(K + 40),
      powerW: exact(3),
      surfaceM2: exact(0.02),
      materials: [{ by: 'kind', kind: 'petg' }],
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
    size: { by: 'gauge', awg: 18 },
    returnBy: 'wire',
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
    const { insulationProbability, insulationHolds, sizes } = wire({
      ...plain,
      currentA: exact(amperes),
      size: { by: 'gauge', awg },
    })
    // The surroundings, wide and uniform, are taken as normal: up to a hundredth and a half, to the safe side.
    expect(Math.abs(insulationProbability - drawn(awg, amperes))).toBeLessThan(0.015)
    expect(insulationHolds).toBe(result)
    const row = sizes.find(({ size }) => size.by === 'gauge' && size.awg === awg)
    if (result !== 'conforms') expect(row?.suits).toBe(false)
  })

  test('a fuse protects as far as the wire stands its rating', () => {
    const { fuse } = wire({ ...plain, currentA: exact(5), fuseA: 7.5 })
    expect(Math.abs(fuse!.probability - drawn(18, 7.5))).toBeLessThan(0.015)
  })
})

test('a heat transfer that was given keeps its own doubt: (10·0.45 - 3)/(2·0.45) = 1.667, 0.9522 in a table', () => {
  const given = heatTransferOf(uncertain(10, 'h', 2), [])
  expect(staysCoolProbability(exact(0.45), exact(3), given)).toBeCloseTo(0.9522, 3)
})
