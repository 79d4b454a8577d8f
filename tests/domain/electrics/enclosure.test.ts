import { describe, expect, test } from 'vitest'
import { type EnclosureRequest, enclosure } from '../../../src/domain/electrics/enclosure.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const K = 273.15
const results = (request: EnclosureRequest) =>
  Object.fromEntries(enclosure(request).materials.map(({ name, result }) => [name, result]))

describe('dashboard in sun, 69.4 °C (Vanos et al. 2018), against glass transitions PLA 59, PETG 77, ABS 90-102, PC 150 °C', () => {
  test('PLA is soft, PETG is not proven with a 10 K margin, ABS and PC keep their shape', () => {
    expect(results({ place: 'dashboard-in-sun' })).toEqual({
      PLA: 'does-not-conform',
      PETG: 'not-proven',
      ABS: 'conforms',
      PC: 'conforms',
    })
  })
  test('the probability of PETG is that of -2.4 K in 3/sqrt 3 K: 0.083 in a table of the normal distribution', () => {
    const [petg] = enclosure({
      place: 'dashboard-in-sun',
      materials: [{ kind: 'petg' }],
    }).materials
    expect(petg!.probability).toBeCloseTo(0.083, 3)
  })
  test('without a margin PETG just holds: 77 against 69.4 °C', () => {
    expect(results({ place: 'dashboard-in-sun', marginK: exact(0) })).toMatchObject({
      PLA: 'does-not-conform',
      PETG: 'conforms',
    })
  })
  test('ABS is 96 °C within 6, assumed uniform', () => {
    const abs = enclosure({ place: 'dashboard-in-sun', materials: [{ kind: 'abs' }] }).materials[0]!
    expect(abs.glassTransitionK.value).toBeCloseTo(K + (90 + 102) / 2, 12)
    expect(plusMinus(abs.glassTransitionK)).toBeCloseTo((2 * 6) / Math.sqrt(3), 12)
    expect(abs.marginK.value).toBeCloseTo(96 - 10 - 69.4, 9)
  })
  test('a material that softens gets a caution', () => {
    expect(enclosure({ place: 'dashboard-in-sun' }).notes).toContainEqual(
      expect.objectContaining({ code: 'enclosure-softens', level: 'caution' }),
    )
  })
})

describe('heat inside: P = h A dT', () => {
  test('1 W from 200 cm2 at 10 W/(m2 K) is 5 K', () => {
    const { riseK, boxTemperatureK } = enclosure({
      ambientK: exact(K + 40),
      powerW: exact(1),
      surfaceM2: exact(0.02),
      heatTransferWPerM2K: exact(10),
    })
    expect(riseK.value).toBeCloseTo(5, 12)
    expect(boxTemperatureK.value).toBeCloseTo(K + 45, 9)
  })
  test('the heat transfer of still air is assumed and dominates the uncertainty', () => {
    const result = enclosure({
      ambientK: uncertain(K + 40, 'surroundings: temperature', 0.5),
      powerW: exact(2),
      surfaceM2: exact(0.02),
    })
    expect(result.assumptions.map(({ field }) => field)).toContain('/heatTransfer')
    expect(result.budget[0]?.input).toBe('heat transfer to still air')
  })
  test('needs the surface of the box', () => {
    expect(() => enclosure({ place: 'dashboard-in-sun', powerW: exact(1) })).toThrow(
      expect.objectContaining({ code: 'needs-another-field' }),
    )
  })
})

test('needs a place or a temperature', () => {
  expect(() => enclosure({})).toThrow(expect.objectContaining({ code: 'needs-another-field' }))
})

test('parts for 85 °C are not proven in an engine compartment of 100 °C within 20', () => {
  const { parts, notes } = enclosure({ place: 'engine-compartment', partsRatedToK: exact(K + 85) })
  expect(parts?.result).not.toBe('conforms')
  // One-sided: (85 - 100)/(20/sqrt 3) = -1.299 standard deviations, 0.097.
  expect(parts?.probability).toBeCloseTo(0.097, 3)
  expect(notes.map(({ code }) => code)).toContain('parts-too-hot')
})
