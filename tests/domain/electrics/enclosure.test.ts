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
      // From memory: ASA softens at 100 °C; metals serve to 100 °C (zinc alloy), 150 °C (aluminum) and more.
      ASA: 'conforms',
      'aluminum sheet 5052': 'conforms',
      'aluminum sheet 6061': 'conforms',
      'aluminum die-casting alloy EN AC-44300': 'conforms',
      'zinc die-casting alloy ZP3': 'conforms',
      'zinc-coated steel sheet': 'conforms',
      'stainless steel sheet 304': 'conforms',
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
    expect(abs.glassTransitionK!.value).toBeCloseTo(K + (90 + 102) / 2, 12)
    expect(plusMinus(abs.glassTransitionK!)).toBeCloseTo((2 * 6) / Math.sqrt(3), 12)
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

describe('dashboard on a hot day, 60 to 90 °C (common practice, no source)', () => {
  const onHotDay = (kind: 'abs' | 'asa' | 'pc' | 'steel-sheet') =>
    enclosure({ place: 'dashboard-on-hot-day', materials: [{ kind }] })
  test('is 75 °C within 15, assumed uniform', () => {
    const { ambientK, assumptions } = onHotDay('asa')
    expect(ambientK.value).toBeCloseTo(K + (60 + 90) / 2, 12)
    expect(plusMinus(ambientK)).toBeCloseTo((2 * 15) / Math.sqrt(3), 12)
    expect(assumptions).toContainEqual({
      field: '/ambient',
      value: '75 °C, within 15 K',
      standing: 'common-practice',
    })
  })
  // 100 - 10 - 75 = 15 K, u = sqrt((15² + 5²)/3) = 9.129 K: 1.643 standard deviations, 0.9498 in a table of the normal distribution.
  // ABS: 96 - 10 - 75 = 11 K, u = sqrt((15² + 6²)/3) = 9.327 K: 1.179, 0.8808.
  test('ASA is a hair short of proven, ABS further', () => {
    expect(onHotDay('asa').materials[0]!.probability).toBeCloseTo(0.9498, 3)
    expect(onHotDay('abs').materials[0]!.probability).toBeCloseTo(0.8808, 3)
  })
  test('the mean of a study says that a dashboard may be hotter', () => {
    const codes = (place: 'dashboard-in-sun' | 'dashboard-on-hot-day') =>
      enclosure({ place }).notes.map(({ code }) => code)
    expect(codes('dashboard-in-sun')).toContain('dashboard-mean')
    expect(codes('dashboard-on-hot-day')).not.toContain('dashboard-mean')
  })
})

describe('service temperatures (material data, from memory)', () => {
  const inEngineCompartment = enclosure({ place: 'engine-compartment' })
  const row = (name: string) => inEngineCompartment.materials.find((one) => one.name === name)!
  test('a metal is used up to its service temperature, without a margin', () => {
    const sheet = row('aluminum sheet 5052')
    expect(sheet.glassTransitionK).toBeUndefined()
    expect(sheet).toMatchObject({ basis: 'service-temperature', result: 'conforms' })
    expect(sheet.usableToK.value).toBeCloseTo(K + 150, 12)
    // 150 - 100 K.
    expect(sheet.marginK.value).toBeCloseTo(50, 9)
  })
  test('a zinc alloy for 100 °C is even odds in 100 °C', () => {
    expect(row('zinc die-casting alloy ZP3').probability).toBeCloseTo(0.5, 12)
  })
  test('a plastic keeps the limit of its glass transition, and says where it ages', () => {
    expect(row('PC')).toMatchObject({ basis: 'glass-transition' })
    expect(row('PC').usableToK.value).toBeCloseTo(K + 150 - 10, 12)
    expect(row('PC').serviceTemperatureK!.value).toBeCloseTo(K + 120, 12)
    const aging = inEngineCompartment.notes.find(({ code }) => code === 'above-service-temperature')!
    // 100 °C within 20: up to 123.1 °C by 2 u, above the 120 °C of PC.
    expect(aging.text).toContain('PLA, PETG, ABS, PC, ASA')
  })
  test('sunlight is a note where a plastic is among the materials', () => {
    const codes = (kind: 'asa' | 'steel-sheet') =>
      enclosure({ ambientK: exact(K + 40), materials: [{ kind }] }).notes.map(({ code }) => code)
    expect(codes('asa')).toContain('plastic-in-sunlight')
    expect(codes('steel-sheet')).toEqual([])
  })
})
