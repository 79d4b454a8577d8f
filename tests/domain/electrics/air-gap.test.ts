import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { type AirGapRequest, airGap, amplitudeRatio } from '../../../src/domain/electrics/air-gap.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const ring = { teeth: 40, outsideDiameterM: exact(0.1) } as const
const good: AirGapRequest = { sensor: 'active', gapM: exact(0.8e-3), ring, runOutM: exact(0.1e-3) }
const check = (request: AirGapRequest, kind: string) =>
  airGap(request).checks.find((one) => one.kind === kind)?.result

describe('geometry of the ring', () => {
  test('40 teeth on 100 mm: module 2.5 mm, pitch 7.854 mm', () => {
    const { moduleM, pitchM } = airGap(good)
    expect(moduleM.value).toBeCloseTo(2.5e-3, 12)
    expect(pitchM.value).toBeCloseTo(2.5e-3 * Math.PI, 12)
  })
  test('module and diameter describe the same ring', () => {
    const byModule = airGap({ ...good, ring: { teeth: 40, moduleM: exact(2.5e-3) } })
    expect(byModule.pitchM.value).toBeCloseTo(airGap(good).pitchM.value, 15)
    expect(byModule.diameterM.value).toBeCloseTo(0.1, 12)
  })
  test('run-out of 0.1 mm on 100 mm is an eccentricity of 0.05 mm on 50 mm: 0.1 % once a turn', () => {
    expect(airGap(good).oncePerTurnErrorPercent.value).toBeCloseTo(0.1, 12)
  })
})

describe('gap over a turn', () => {
  test('run-out and play enter by half to either side', () => {
    const { smallestGapM, largestGapM } = airGap({ ...good, playM: exact(0.06e-3) })
    expect(smallestGapM.value).toBeCloseTo(0.72e-3, 12)
    expect(largestGapM.value).toBeCloseTo(0.88e-3, 12)
  })
  test('amplitude falls by e over a gap of pitch/2π', () => {
    expect(amplitudeRatio(exact(7.854e-3 / (2 * Math.PI)), exact(7.854e-3)).value).toBeCloseTo(Math.E, 12)
  })
  test('the modeled field obeys Laplace’s equation: second differences cancel', () => {
    const p = 8e-3
    const field = (x: number, g: number) =>
      Math.cos((2 * Math.PI * x) / p) / amplitudeRatio(exact(g), exact(p)).value
    const h = 1e-5
    const [x, g] = [1e-3, 0.8e-3]
    const alongX = field(x + h, g) - 2 * field(x, g) + field(x - h, g)
    const alongG = field(x, g + h) - 2 * field(x, g) + field(x, g - h)
    expect(Math.abs((alongX + alongG) / alongG)).toBeLessThan(1e-4)
  })
})

describe('limits of the gap: 0.2 to 1.5 mm (service data), or the sensor’s own', () => {
  test.each([
    [0.2, 'conforms', 'conforms'],
    [0.199, 'does-not-conform', 'conforms'],
    [1.5, 'conforms', 'conforms'],
    [1.501, 'conforms', 'does-not-conform'],
  ])('%f mm without run-out', (gap, least, most) => {
    const request = { ...good, gapM: exact(gap * 1e-3), runOutM: exact(0) }
    expect(check(request, 'min-gap')).toBe(least)
    expect(check(request, 'max-gap')).toBe(most)
  })
  // 0.1 mm of run-out: 0.05 mm to either side of the mean, which is off the gap given by u = 0.05/√2 = 0.0354 mm; proven from
  // 0.2 + 0.05 + 1.645·0.0354 = 0.308 mm on, broken up to 0.2 + 0.05 - 0.058 = 0.192 mm. The worst place would give 0.3.
  test.each([
    [0.309, 'conforms'],
    [0.307, 'not-proven'],
    [0.193, 'not-proven'],
    [0.191, 'does-not-conform'],
  ])('%f mm with 0.1 mm of run-out', (gap, least) => {
    expect(check({ ...good, gapM: exact(gap * 1e-3) }, 'min-gap')).toBe(least)
  })
  test('a gap as large as the run-out may be the widest of the turn: half of it was said to remain for certain (2026-11)', () => {
    const request = { ...good, gapM: exact(0.5e-3), runOutM: exact(0.5e-3) }
    expect(check(request, 'clear-of-ring')).toBe('not-proven')
    const { smallestGapM, assumptions, notes } = airGap(request)
    // 0.25 mm within 2·0.25/√2.
    expect(smallestGapM.value).toBeCloseTo(0.25e-3, 12)
    expect(plusMinus(smallestGapM)).toBeCloseTo(0.5e-3 / Math.SQRT2, 12)
    expect(assumptions.map(({ field }) => field)).toContain('/gap')
    expect(notes.map(({ code }) => code)).toContain('ring-may-touch')
  })
  test('play enters with the shaft at either end of it', () => {
    const { smallestGapM } = airGap({ ...good, runOutM: exact(0), playM: exact(0.2e-3) })
    expect(plusMinus(smallestGapM)).toBeCloseTo(0.2e-3, 12)
  })
  test('a gap that conforms does so at the widest and at the narrowest place', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.1e-3, max: 2e-3, noNaN: true }),
        fc.double({ min: 0, max: 1e-3, noNaN: true }),
        (gap, runOut) => {
          const request = { ...good, gapM: exact(gap), runOutM: exact(runOut) }
          if (check(request, 'min-gap') === 'conforms') expect(gap - runOut).toBeGreaterThan(0.2e-3 - 1e-12)
          if (check(request, 'max-gap') === 'conforms') expect(gap + runOut).toBeLessThan(1.5e-3 + 1e-12)
        },
      ),
    )
  })
  test('with uncertainty, a gap near the limit is not proven', () => {
    expect(check({ ...good, gapM: uncertain(1.42e-3, 'gap', 0.05e-3) }, 'max-gap')).toBe('not-proven')
  })
  test('limits of the sensor replace the defaults', () => {
    expect(check({ ...good, limits: { minM: 0.3e-3, maxM: 0.7e-3 } }, 'max-gap')).toBe('does-not-conform')
  })
  test('refuses swapped limits', () => {
    expect(() => airGap({ ...good, limits: { minM: 1e-3, maxM: 0.5e-3 } })).toThrow(
      expect.objectContaining({ code: 'limits-crossed' }),
    )
  })
})

describe('proportions (common practice, no source)', () => {
  test('half the module: 1.25 mm for module 2.5', () => {
    const even = { ...good, runOutM: exact(0) }
    expect(check({ ...even, gapM: exact(1.249e-3) }, 'gap-over-module')).toBe('conforms')
    expect(check({ ...even, gapM: exact(1.251e-3) }, 'gap-over-module')).toBe('does-not-conform')
  })
  test('a tooth of half the pitch conforms, one of 65 % does not, and its uncertainty counts', () => {
    const withTooth = (share: number) => ({
      ...good,
      ring: { ...ring, toothWidthM: uncertain(share * 7.854e-3, 'tooth', 0.05e-3) },
    })
    expect(check(withTooth(0.5), 'tooth-share')).toBe('conforms')
    expect(check(withTooth(0.65), 'tooth-share')).toBe('does-not-conform')
    expect(plusMinus(airGap(withTooth(0.5)).toothSharePercent!)).toBeCloseTo((100 * 0.1) / 7.854, 3)
  })
  test('the gap between teeth is a module deep, and the run-out a quarter of the air gap, at the limits', () => {
    const deep = (mm: number) => ({ ...good, ring: { ...ring, toothDepthM: exact(mm * 1e-3) } })
    expect(check(deep(2.51), 'tooth-depth')).toBe('conforms')
    expect(check(deep(2.49), 'tooth-depth')).toBe('does-not-conform')
    expect(check({ ...good, runOutM: exact(0.199e-3) }, 'run-out')).toBe('conforms')
    expect(check({ ...good, runOutM: exact(0.201e-3) }, 'run-out')).toBe('does-not-conform')
  })
  test('run-out modulates the amplitude by exp(2π x 0.1/7.854) - 1, 8.33 %; play does not', () => {
    const modulation = airGap({ ...good, playM: exact(0.5e-3) }).amplitudeModulationPercent.value
    expect(modulation).toBeCloseTo(100 * (Math.exp((2 * Math.PI * 0.1) / (2.5 * Math.PI)) - 1), 9)
  })
  test('refuses a tooth as wide as the pitch, and a run-out beyond it', () => {
    const code = expect.objectContaining({ code: 'limits-crossed' })
    expect(() => airGap({ ...good, ring: { ...ring, toothWidthM: exact(7.86e-3) } })).toThrow(code)
    expect(() => airGap({ ...good, runOutM: exact(7.86e-3) })).toThrow(code)
  })
  test('a gap that run-out uses up may touch, and the answer warns', () => {
    const { notes } = airGap({ ...good, gapM: exact(0.3e-3), runOutM: exact(0.7e-3) })
    expect(notes.filter(({ level }) => level === 'caution').map(({ code }) => code)).toContain(
      'ring-may-touch',
    )
  })
})

test('more run-out never widens the smallest gap or reduces the amplitude modulation', () => {
  fc.assert(
    fc.property(
      fc.double({ min: 0, max: 3e-3, noNaN: true }),
      fc.double({ min: 1e-6, max: 3e-3, noNaN: true }),
      (runOut, more) => {
        const [a, b] = [runOut, runOut + more].map((m) => airGap({ ...good, runOutM: exact(m) }))
        expect(b!.smallestGapM.value).toBeLessThan(a!.smallestGapM.value)
        expect(b!.amplitudeModulationPercent.value).toBeGreaterThan(a!.amplitudeModulationPercent.value)
      },
    ),
  )
})
