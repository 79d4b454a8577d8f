import { type Assumption, assumed } from '../measure/assumptions.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { product, propagate, quotient, scaled } from '../measure/propagation.js'
import type { SourceId, Standing } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import type { RingDiameters } from './ring-joint.js'

/**
 * Materials of rings: density and the stress that they bear without lasting damage.
 *
 * | material | density [kg/m3] | strength [MPa] | standing |
 * |---|---|---|---|
 * | structural steel S235JR | 7850 | 235, minimum yield | EN 10025-2, from memory |
 * | aluminum EN AW-6082-T6 | 2700 | 250, minimum yield | EN 755-2, from memory |
 * | stainless steel 304 (1.4301) | 7900 | 210, minimum yield | EN 10088-2, from memory |
 * | printed plastic, across its layers | 1250, within 100 | 15, within 8 | common practice, no source |
 */
export const RING_MATERIALS = {
  steel: { name: 'structural steel S235JR', density: 7850, mpa: 235, ...standard() },
  aluminum: { name: 'aluminum EN AW-6082-T6', density: 2700, mpa: 250, ...standard() },
  'stainless-steel': { name: 'stainless steel 304', density: 7900, mpa: 210, ...standard() },
  'printed-plastic': {
    name: 'printed plastic, across its layers',
    density: 1250,
    densityHalfRange: 100,
    mpa: 15,
    mpaHalfRange: 8,
    standing: 'common-practice',
    source: 'ring-mounting-practice',
  },
} as const satisfies Record<
  string,
  {
    name: string
    density: number
    densityHalfRange: number
    mpa: number
    mpaHalfRange: number
    standing: Standing
    source: SourceId
  }
>
export type RingMaterial = keyof typeof RING_MATERIALS

/** A minimum of a standard is exact. */
function standard() {
  return {
    densityHalfRange: 0,
    mpaHalfRange: 0,
    standing: 'from-memory',
    source: 'ring-materials',
  } as const
}

/** A built-in material, or one with its own density and strength. */
export type RingMaterialChoice =
  | { readonly kind: RingMaterial }
  | { readonly name: string; readonly densityKgPerM3: Figure; readonly strengthPa: Figure }

export interface GivenSpin {
  /** Highest rotational speed of the shaft. */
  readonly shaftSpeedPerS: number
  /** Along the axis. */
  readonly widthM: Figure
  readonly material: RingMaterialChoice
  /** Default: from the dimensions, as if the teeth filled the gaps. */
  readonly massKg?: Figure
  /** Strength over hoop stress that is asked for. */
  readonly safetyFactor?: number
}

export interface Spin {
  readonly material: string
  readonly rimSpeedMPerS: Figure
  readonly hoopStressPa: Figure
  readonly strengthPa: Figure
  /** Rotational speed at which the hoop stress reaches the strength. */
  readonly limitSpeedPerS: Figure
  readonly safetyFactor: number
  /** Tension of the ring around its circumference, which each joint must hold. */
  readonly hoopForceN: Figure
  /** Hoop force for each screw of a joint. */
  readonly screwForceN?: Figure
  readonly massKg: Figure
  /** At the largest eccentricity. */
  readonly maxUnbalanceKgM: Figure
  readonly maxUnbalanceForceN: Figure
}

/**
 * Hoop stress of a thin rotating ring.
 *
 *     σ = ρ·v²
 *
 * ρ is the density, v the speed of the rim.
 *
 * With the speed at the outside diameter it is an upper bound for any plain ring: the most in a ring of outer radius b and inner radius a is
 * ρ·ω²·((3 + μ)·b² + (1 − μ)·a²)/4, which is below ρ·ω²·b² for a < b; ω is 2π times the turns per second, μ Poisson's ratio. Teeth, holes and cuts raise it locally.
 *
 * @param densityKgPerM3 - ρ. [kg/m³]
 * @param rimSpeedMPerS - v. [m/s]
 * @returns Stress [Pa]
 * @throws {DomainError} `not-finite`
 * @see Roark's Formulas for Stress and Strain (thin ring and disk rotating about their axis)
 * @example hoopStress(exact(7850), exact(100)).value // 78500000 ± 1e-6
 */
export function hoopStress(densityKgPerM3: Figure, rimSpeedMPerS: Figure): Figure {
  return product(densityKgPerM3, product(rimSpeedMPerS, rimSpeedMPerS))
}

/**
 * Rotational speed at which the hoop stress of a ring reaches its strength.
 *
 *     n = √(S/ρ)/(π·D)
 *
 * S is the strength, ρ the density, D the outside diameter.
 *
 * @param strengthPa - S. [Pa]
 * @param densityKgPerM3 - ρ. [kg/m³]
 * @param outsideDiameterM - D. [m]
 * @returns n [1/s]
 * @throws {DomainError} `not-finite`
 * @see Roark's Formulas for Stress and Strain, solved for the speed
 * @example limitSpeed(exact(78.5e6), exact(7850), exact(0.1)).value // 318.309886 ± 1e-6
 */
export function limitSpeed(strengthPa: Figure, densityKgPerM3: Figure, outsideDiameterM: Figure): Figure {
  const value = Math.sqrt(strengthPa.value / densityKgPerM3.value) / (Math.PI * outsideDiameterM.value)
  return propagate(value, [
    [strengthPa, value / (2 * strengthPa.value)],
    [densityKgPerM3, -value / (2 * densityKgPerM3.value)],
    [outsideDiameterM, -value / outsideDiameterM.value],
  ])
}

/**
 * Mass of a plain ring.
 *
 *     m = ρ·w·π·(D² − b²)/4
 *
 * ρ is the density, w the width along the axis, D and b the outside diameter and the bore.
 *
 * @param densityKgPerM3 - ρ. [kg/m³]
 * @param widthM - w. [m]
 * @param ring - D and b. [m]
 * @returns Mass [kg]
 * @throws {DomainError} `not-finite`
 * @see definition of density
 * @example ringMass(exact(8000), exact(0.01), { outsideDiameterM: exact(0.1), boreM: exact(0.06) }).value // 0.4021239 ± 1e-7
 */
export function ringMass(
  densityKgPerM3: Figure,
  widthM: Figure,
  ring: Pick<RingDiameters, 'outsideDiameterM' | 'boreM'>,
): Figure {
  const { outsideDiameterM, boreM } = ring
  const [d, b] = [outsideDiameterM.value, boreM.value]
  const areaM2 = propagate((Math.PI * (d - b) * (d + b)) / 4, [
    [outsideDiameterM, (Math.PI * d) / 2],
    [boreM, (-Math.PI * b) / 2],
  ])
  return product(product(densityKgPerM3, widthM), areaM2)
}

function materialOf(choice: RingMaterialChoice, taken: Assumption[], sources: SourceId[]) {
  if ('name' in choice) return choice
  const { name, density, densityHalfRange, mpa, mpaHalfRange, standing, source } = RING_MATERIALS[choice.kind]
  sources.push(source)
  const within = (half: number, unit: string) => (half === 0 ? unit : `${unit}, within ${half}`)
  taken.push({
    field: '/spin/material',
    value: `${density} ${within(densityHalfRange, 'kg/m3')}; strength ${mpa} ${within(mpaHalfRange, 'MPa')}`,
    standing,
  })
  return {
    name,
    densityKgPerM3: uncertain(density, `${name}: density`, densityHalfRange / Math.sqrt(3)),
    strengthPa: uncertain(mpa * 1e6, `${name}: strength`, (mpaHalfRange * 1e6) / Math.sqrt(3)),
  }
}

/**
 * Stress, unbalance and forces of a ring at the highest speed of its shaft.
 *
 *     v = π·D·n,  σ = ρ·v²,  F = σ·w·(D − b)/2;  unbalance m·e,  its force m·e·(2π·n)²
 *
 * D is the outside diameter, n the turns per second, ρ the density, w the width along the axis, b the bore, m the mass, e the largest eccentricity.
 *
 * Every joint of a ring holds the hoop force F. It is that of a ring whose teeth fill the gaps, and all of it at the rim: an upper bound.
 *
 * @param diameters - Bore and outside diameter [m]
 * @param given - Highest rotational speed [1/s], width [m], material
 * @param maxEccentricityM - e. [m]
 * @param screws - Screws of each joint
 * @param taken - Assumptions of the answer; gets those of the material and the factor
 * @param sources - Sources of the answer; gets those used
 * @returns Stress [Pa], forces [N], mass [kg], unbalance [kg m]
 * @throws {DomainError} `not-finite`
 * @see Roark's Formulas for Stress and Strain; unbalance: definition; factor of four: common practice
 * @example ringSpin({ boreM: exact(0.06), outsideDiameterM: exact(0.1) }, { shaftSpeedPerS: 1000 / Math.PI, widthM: exact(0.01), material: { kind: 'steel' } }, exact(0), 2, [], []).screwForceN.value // 7850 ± 1e-6
 */
export function ringSpin(
  diameters: Pick<RingDiameters, 'boreM' | 'outsideDiameterM'>,
  given: GivenSpin,
  maxEccentricityM: Figure,
  screws: number | undefined,
  taken: Assumption[],
  sources: SourceId[],
): Spin {
  const { boreM, outsideDiameterM } = diameters
  const { shaftSpeedPerS, widthM } = given
  const { name, densityKgPerM3, strengthPa } = materialOf(given.material, taken, sources)
  sources.push('rotating-ring')
  const rimSpeedMPerS = scaled(outsideDiameterM, Math.PI * shaftSpeedPerS)
  const hoopStressPa = hoopStress(densityKgPerM3, rimSpeedMPerS)
  const heightM = propagate((outsideDiameterM.value - boreM.value) / 2, [
    [outsideDiameterM, 0.5],
    [boreM, -0.5],
  ])
  const hoopForceN = product(hoopStressPa, product(widthM, heightM))
  const massKg = assumed(
    given.massKg,
    ringMass(densityKgPerM3, widthM, diameters),
    { field: '/spin/mass', value: 'from the dimensions, the teeth counted as full', standing: 'derived' },
    taken,
  )
  const maxUnbalanceKgM = product(massKg, maxEccentricityM)
  const result: Mutable<Spin> = {
    material: name,
    rimSpeedMPerS,
    hoopStressPa,
    strengthPa,
    limitSpeedPerS: limitSpeed(strengthPa, densityKgPerM3, outsideDiameterM),
    safetyFactor: assumed(
      given.safetyFactor,
      4,
      { field: '/spin/safetyFactor', value: '4', standing: 'common-practice' },
      taken,
    ),
    hoopForceN,
    massKg,
    maxUnbalanceKgM,
    maxUnbalanceForceN: scaled(maxUnbalanceKgM, (2 * Math.PI * shaftSpeedPerS) ** 2),
  }
  if (screws !== undefined) result.screwForceN = quotient(hoopForceN, exact(screws))
  return result
}
