import { describe, expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { hoopStress, limitSpeed, ringMass, ringSpin } from '../../../src/domain/pick-ups/ring-strength.js'
import { noise } from '../../support/noise.js'

// Roark's Formulas for Stress and Strain, from memory: a thin ring that rotates about its axis has the stress rho v².
describe('hoop stress', () => {
  test('steel of 7850 kg/m3 with a rim of 100 m/s: 78.5 MPa', () => {
    expect(hoopStress(exact(7850), exact(100)).value).toBeCloseTo(78.5e6, 0)
  })
  // The same book, disk with a hole: rho w² ((3 + m) b² + (1 - m) a²)/4, for a = 0.3 to 0.999 b and a Poisson's ratio of 0.3.
  test('is above that of any plain ring with that outside diameter, and that of a thin one', () => {
    const thick = (a: number) => (3 + 0.3 + (1 - 0.3) * a * a) / 4
    for (const a of [0.3, 0.6, 0.9, 0.999]) expect(thick(a)).toBeLessThan(1)
    expect(thick(0.999)).toBeCloseTo(1, 3)
  })
})

// By hand: sqrt(235e6/7850) = 173.02 m/s; on 96 mm 173.02/(pi · 0.096) = 573.7 turns per second.
test('structural steel on 96 mm reaches its yield strength at 573.7 turns per second', () => {
  expect(limitSpeed(exact(235e6), exact(7850), exact(0.096)).value).toBeCloseTo(573.69, 1)
})

// By hand: pi/4 · (10 cm² · 10 - 6 cm · 6 cm) = 50.265 cm2, 1 cm wide, 8 g/cm3: 402.12 g.
test('mass of a plain ring', () => {
  const ring = { outsideDiameterM: exact(0.1), boreM: exact(0.06) }
  expect(ringMass(exact(8000), exact(0.01), ring).value).toBeCloseTo(0.40212, 5)
})

const given = {
  shaftSpeedPerS: 5500 / 60,
  widthM: exact(0.012),
  material: { kind: 'aluminum' },
} as const
const ring = { boreM: exact(0.061), outsideDiameterM: exact(0.11) }

// By hand: v = pi · 0.11 · 91.667 = 31.678 m/s; 2700 · v² = 2.7094 MPa; 12 · 24.5 mm2 = 294 mm2; 796.6 N.
test('a joint holds the hoop force; its screws share it', () => {
  const spin = ringSpin(ring, given, exact(0), 2, [], [])
  expect(spin.rimSpeedMPerS.value).toBeCloseTo(31.678, 3)
  expect(spin.hoopStressPa.value / 1e6).toBeCloseTo(2.7094, 3)
  expect(spin.hoopForceN.value).toBeCloseTo(796.6, 0)
  expect(spin.screwForceN!.value).toBeCloseTo(398.3, 0)
})

// By hand: 200 g off by 0.1 mm are 20 g mm; w = 2 pi · 91.667 = 575.96/s; 20e-6 · w² = 6.6346 N.
test('unbalance is mass times eccentricity, and pulls with the square of the speed', () => {
  const spin = ringSpin(ring, { ...given, massKg: exact(0.2) }, exact(0.0001), undefined, [], [])
  expect(spin.maxUnbalanceKgM.value).toBeCloseTo(20e-6, 12)
  expect(spin.maxUnbalanceForceN.value).toBeCloseTo(6.6346, 3)
  expect(spin.screwForceN).toBeUndefined()
})

test('a material says where it comes from', () => {
  const taken: { field: string; standing: string }[] = []
  const sources: string[] = []
  const printed = { ...given, material: { kind: 'printed-plastic' } } as const
  ringSpin(ring, printed, exact(0), undefined, taken as never, sources as never)
  expect(taken[0]).toMatchObject({ field: '/spin/material', standing: 'common-practice' })
  expect(sources).toContain('ring-mounting-practice')
})

test('draws of density, strength and diameters lie in the intervals with 93 to 99 %', () => {
  const material = {
    name: 'cast nylon',
    densityKgPerM3: uncertain(1150, 'density', 20),
    strengthPa: uncertain(70e6, 'strength', 5e6),
  }
  const uneven = { boreM: exact(0.061), outsideDiameterM: uncertain(0.11, 'outside', 0.001) }
  const spin = ringSpin(uneven, { ...given, material }, exact(0), undefined, [], [])
  const normal = noise(3)
  const inside = { stress: 0, limit: 0, force: 0 }
  const draws = 20_000
  for (let draw = 0; draw < draws; draw++) {
    const density = 1150 + 20 * normal()
    const d = 0.11 + 0.001 * normal()
    const v = Math.PI * d * (5500 / 60)
    const limit = Math.sqrt((70e6 + 5e6 * normal()) / density) / (Math.PI * d)
    const force = (density * v * v * 0.012 * (d - 0.061)) / 2
    const holds = (value: number, figure: typeof spin.hoopForceN) =>
      Number(Math.abs(value - figure.value) <= plusMinus(figure))
    inside.stress += holds(density * v * v, spin.hoopStressPa)
    inside.limit += holds(limit, spin.limitSpeedPerS)
    inside.force += holds(force, spin.hoopForceN)
  }
  const shares = Object.values(inside).map((count) => count / draws)
  expect(shares.filter((share) => share < 0.93 || share > 0.99)).toEqual([])
})
