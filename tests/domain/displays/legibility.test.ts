import { describe, expect, test } from 'vitest'
import {
  type LegibilityRequest,
  legibility,
  opticalDensity,
} from '../../../src/domain/displays/legibility.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'

const ARCMIN_RAD = Math.PI / 10_800

// Illuminances of a multiple of π make round luminances: 0.25 · 6400π/π = 1600, 0.005 · 6400π/π = 32 cd/m2.
const REQUEST: LegibilityRequest = {
  display: { luminanceCdPerM2: exact(800), unlitLuminanceCdPerM2: exact(8), reflectance: exact(0.25) },
  surfaceReflectance: exact(0.005),
  filters: [
    { name: 'none', transmittance: exact(1) },
    { name: 'quarter', transmittance: exact(0.25) },
    { name: 'black', transmittance: exact(0.01) },
  ],
  day: { illuminanceLx: exact(6400 * Math.PI), minContrastRatio: 2 },
  night: {
    illuminanceLx: exact(4 * Math.PI),
    minContrastRatio: 5,
    minLuminanceCdPerM2: 2,
    maxLuminanceCdPerM2: 20,
  },
  character: { heightM: exact(0.01), distanceM: exact(0.75) },
}

describe('800 and 8 cd/m2 behind a filter of 1/4, 1600 cd/m2 reflected behind it and 32 by its front', () => {
  const found = legibility(REQUEST)
  const [none, quarter, black] = found.filters

  test('by day: lit 200 + 100 + 32, unlit 2 + 100 + 32', () => {
    expect(quarter!.litLuminanceCdPerM2.value).toBeCloseTo(332, 9)
    expect(quarter!.unlitLuminanceCdPerM2.value).toBeCloseTo(134, 9)
    expect(quarter!.contrastRatio.value).toBeCloseTo(332 / 134, 12)
    expect(quarter!.contrast.value).toBeCloseTo(198 / 466, 12)
    expect(quarter!.density.value).toBeCloseTo(Math.log10(4), 12)
  })

  // R = 1 · 0.0625 + 0.02 = 0.0825 cd/m2 for 5:1: L ≥ 4 · 0.0825/(0.25 · (1 - 5/100)) = 1.389; 2 cd/m2 behind it need 8, 20 allow 80.
  test('at night from 8 to 80 cd/m2, 1 to 10 % of full', () => {
    const { minLuminanceCdPerM2, maxLuminanceCdPerM2, minShare, maxShare } = quarter!.night!
    expect(minLuminanceCdPerM2.value).toBeCloseTo(8, 9)
    expect(maxLuminanceCdPerM2.value).toBeCloseTo(80, 9)
    expect([minShare.value, maxShare.value].map((share) => share.toFixed(6))).toEqual([
      '0.010000',
      '0.100000',
    ])
  })

  // (800 + 1600)/(8 + 1600): without a filter there is no front that reflects another 32.
  test('without a filter only the display reflects', () => {
    expect(none!.contrastRatio.value).toBeCloseTo(2400 / 1608, 12)
  })

  // Unfiltered 2400/1608 < 2. A hundredth: (8 + 0.16 + 32)/(0.08 + 0.16 + 32) < 2.
  test('no filter and one that is too dark do not serve by day; a quarter does', () => {
    expect([none!.verdict, quarter!.verdict, black!.verdict]).toEqual([
      'does-not-conform',
      'conforms',
      'does-not-conform',
    ])
    const { minTransmittance, maxTransmittance } = found.day.serves!
    // b = 792 - 8: roots of 1600 τ² - 784 τ + 32.
    expect(minTransmittance.value).toBeCloseTo((784 - Math.sqrt(784 ** 2 - 4 * 1600 * 32)) / 3200, 12)
    expect(maxTransmittance.value).toBeCloseTo((784 + Math.sqrt(784 ** 2 - 4 * 1600 * 32)) / 3200, 12)
  })

  // 2 arctan(10/1500) = 45.8 arcmin; 20 arcmin at 750 mm: 1500 · tan 10 arcmin = 4.363 mm.
  test('the digits are seen at 45.8 minutes of arc and need 4.36 mm', () => {
    expect(found.character.angleRad.value / ARCMIN_RAD).toBeCloseTo(45.84, 2)
    expect(found.character.requiredHeightM.value * 1000).toBeCloseTo(1500 * Math.tan(10 * ARCMIN_RAD), 9)
    expect(found.character.result).toBe('conforms')
  })
})

test('stray light of a fifth of the lit parts leaves no contrast of 5:1 at night, however bright', () => {
  const { filters } = legibility({
    ...REQUEST,
    display: { ...REQUEST.display, unlitLuminanceCdPerM2: exact(160) },
  })
  const check = filters[1]!.checks.find(({ kind }) => kind === 'night-contrast')!
  expect([check.probability, check.field, filters[1]!.night]).toEqual([
    0,
    '/display/unlitLuminance',
    undefined,
  ])
})

test('a display that cannot be dimmed to 80 cd/m2 dazzles behind a filter of a quarter', () => {
  const at = (dimmest: number) =>
    legibility({
      ...REQUEST,
      display: { ...REQUEST.display, dimmestLuminanceCdPerM2: uncertain(dimmest, 'dimmest', 1) },
    }).filters[1]!.checks.find(({ kind }) => kind === 'night-dimming')!.result
  expect([at(77), at(80), at(83)]).toEqual(['conforms', 'not-proven', 'does-not-conform'])
})

test('values left out are named, with where they come from', () => {
  const found = legibility({
    display: { luminanceCdPerM2: exact(800), reflectance: exact(0.25) },
    filters: [{ name: 'none', transmittance: exact(1) }],
    character: { heightM: exact(0.01), distanceM: exact(0.75) },
  })
  expect(found.assumptions.map(({ field }) => field)).toEqual([
    '/day/illuminance',
    '/day/minContrastRatio',
    '/night/illuminance',
    '/night/minContrastRatio',
    '/night/minLuminance',
    '/night/maxLuminance',
    '/character/minAngle',
    '/display/unlitLuminance',
    '/surfaceReflectance',
  ])
  expect(new Set(found.sources)).toEqual(
    new Set([
      'filtered-display',
      'definitions',
      'gum',
      'caller-reading',
      'iso-15008',
      'night-luminance',
      'fresnel-reflection',
    ]),
  )
})

test('refusals name the field and say what to give', () => {
  const { display } = REQUEST
  expect(() =>
    legibility({ ...REQUEST, display: { ...display, unlitLuminanceCdPerM2: exact(800) } }),
  ).toThrow(
    'display.unlitLuminance: expected less than the luminance of lit characters, 800 cd/m2, got 800 cd/m2',
  )
  expect(() =>
    legibility({ ...REQUEST, display: { ...display, dimmestLuminanceCdPerM2: exact(900) } }),
  ).toThrow('display.dimmestLuminance: expected less than the full luminance')
  expect(() =>
    legibility({ ...REQUEST, night: { minLuminanceCdPerM2: 20, maxLuminanceCdPerM2: 10 } }),
  ).toThrow('night.minLuminance: expected less than night.maxLuminance, 10 cd/m2, got 20 cd/m2')
})

test('a filter of one hundredth has an optical density of 2', () => {
  expect(opticalDensity(exact(0.01)).value).toBeCloseTo(2, 12)
  expect(Object.is(opticalDensity(exact(1)).value, 0)).toBe(true)
})
