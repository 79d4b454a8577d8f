import { within } from '../errors.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import type { Figure } from '../measure/figure.js'
import { propagate, scaled } from '../measure/propagation.js'
import type { Traced } from '../measure/provenance.js'
import type { Mutable } from '../mutable.js'

/** Minimum and maximum number of bolts of a circle. */
export const BOLTS = { min: 2, max: 24 } as const

/** sin(π·steps/bolts): the chord over the diameter. */
function chordPerDiameter(bolts: number, steps: number): number {
  within('bolts', bolts, BOLTS.min, BOLTS.max)
  within('steps', steps, 1, Math.floor(bolts / 2))
  return Math.sin((Math.PI * steps) / bolts)
}

/**
 * Diameter of a bolt circle from the distance between two of its holes, center to center: for a caliper measurement
 * if no hole is opposite another or the hub is in the way.
 *
 *     D = c / sin(π·k/n)
 *
 * Exact for evenly spaced holes.
 *
 * @param chordM - c, distance of the two hole centers. [m], > 0
 * @param bolts - n, number of holes, 2 to 24
 * @param steps - k, number of steps from one hole to the other: 1 for neighbors; at most half of n
 * @returns D [m], with its uncertainty
 * @throws {DomainError} `out-of-range` naming bolts or steps
 * @see Euclidean geometry of the chord: c = D·sin(half the subtended angle)
 * @example circleDiameterFromChord(exact(0.05), 6, 1).value // 0.1 ± 1e-15
 * @example circleDiameterFromChord(exact(0.0587785252), 5, 1).value // 0.1 ± 1e-10
 */
export function circleDiameterFromChord(chordM: Figure, bolts: number, steps: number): Figure {
  return scaled(chordM, 1 / chordPerDiameter(bolts, steps))
}

/**
 * Distance between two holes of a bolt circle, center to center; the inverse of `circleDiameterFromChord`.
 *
 *     c = D · sin(π·k/n)
 *
 * @param circleDiameterM - D [m], > 0
 * @param bolts - n, number of holes, 2 to 24
 * @param steps - k, number of steps from one hole to the other
 * @returns c [m], with its uncertainty
 * @throws {DomainError} `out-of-range` naming bolts or steps
 * @see Euclidean geometry of the chord
 * @example chordOfCircle(exact(0.1), 4, 1).value // 0.070710678 ± 1e-9
 * @example chordOfCircle(exact(0.1), 4, 2).value // 0.1 ± 1e-15
 */
export function chordOfCircle(circleDiameterM: Figure, bolts: number, steps: number): Figure {
  return scaled(circleDiameterM, chordPerDiameter(bolts, steps))
}

/**
 * Center distance and diameter of two equal holes from caliper readings between their near edges and over their far edges.
 *
 *     c = (far + near)/2,  d = (far − near)/2
 *
 * The two readings are independent, so both results have the uncertainties of both.
 *
 * @param nearM - Between the near edges, the inside measurement. [m], > 0
 * @param farM - Over the far edges, the outside measurement. [m], > near
 * @returns Center distance c and hole diameter d [m]
 * @throws {DomainError} `out-of-range` when far is not the larger
 * @see definitions: far = c + d, near = c − d
 * @example chordFromEdges(exact(0.0415), exact(0.0585)).chordM.value // 0.05 ± 1e-15
 * @example chordFromEdges(exact(0.0415), exact(0.0585)).boltHoleM.value // 0.0085 ± 1e-15
 */
export function chordFromEdges(nearM: Figure, farM: Figure): { chordM: Figure; boltHoleM: Figure } {
  within(
    'the measurement over the far edges minus that between the near ones',
    farM.value - nearM.value,
    1e-6,
    1,
  )
  return {
    chordM: propagate((farM.value + nearM.value) / 2, [
      [farM, 0.5],
      [nearM, 0.5],
    ]),
    boltHoleM: propagate((farM.value - nearM.value) / 2, [
      [farM, 0.5],
      [nearM, -0.5],
    ]),
  }
}

/** Two holes of a bolt circle, by the distance of their centers or by caliper readings at their edges. */
export type MeasuredHoles = {
  readonly bolts: number
  /** Number of steps from one hole to the other; 1 if left out. */
  readonly steps?: number
} & ({ readonly chordM: Figure } | { readonly nearEdgesM: Figure; readonly farEdgesM: Figure })

/** The circle through the centers of the holes. */
export interface MeasuredCircle extends Traced {
  readonly circleDiameterM: Figure
  readonly chordM: Figure
  /** Diameter of a hole, where both edges were measured. */
  readonly boltHoleM?: Figure
  /** Of the circle diameter. */
  readonly budget: readonly BudgetLine[]
}

/**
 * Bolt circle from what can be measured between two of its holes.
 *
 *     D = c / sin(π·k/n),  c given or (far + near)/2
 *
 * Limits of validity: those of `circleDiameterFromChord` and `chordFromEdges`.
 *
 * @param holes - n = bolts, k = steps, and the chord or the two readings [m]
 * @returns D and c [m] with the uncertainty budget of D; the hole diameter [m] where the edges were measured
 * @throws {DomainError} `out-of-range` naming bolts, steps or the readings
 * @see Euclidean geometry of the chord
 * @example boltCircle({ bolts: 6, chordM: exact(0.05) }).circleDiameterM.value // 0.1 ± 1e-15
 * @example boltCircle({ bolts: 6, nearEdgesM: exact(0.0415), farEdgesM: exact(0.0585) }).boltHoleM.value // 0.0085 ± 1e-15
 */
export function boltCircle(holes: MeasuredHoles): MeasuredCircle {
  const { bolts, steps = 1 } = holes
  const measured: { readonly chordM: Figure; readonly boltHoleM?: Figure } =
    'chordM' in holes ? holes : chordFromEdges(holes.nearEdgesM, holes.farEdgesM)
  const { chordM, boltHoleM } = measured
  const circleDiameterM = circleDiameterFromChord(chordM, bolts, steps)
  const circle: Mutable<MeasuredCircle> = {
    circleDiameterM,
    chordM,
    budget: budget(circleDiameterM),
    sources: ['definitions', 'caller-reading'],
    notes: [],
  }
  if (boltHoleM !== undefined) circle.boltHoleM = boltHoleM
  return circle
}

/**
 * Largest bolt that passes through two holes whose centers do not coincide: the largest circle inside both.
 *
 *     d = min( d₁, d₂, (d₁ + d₂)/2 − e )
 *
 * On two concentric bolt circles of diameters D₁ and D₂ every hole is off by e = |D₁ − D₂|/2, so one bolt size serves all.
 *
 * @param firstM - d₁, diameter of one hole. [m], > 0
 * @param secondM - d₂, diameter of the other. [m], > 0
 * @param offsetM - e, distance of their centers. [m], >= 0
 * @returns d [m]; 0 if the holes do not overlap
 * @see geometry: a circle inside both lies in their intersection, whose width on the line of centers is (d₁ + d₂)/2 − e
 * @example largestBoltM(0.009, 0.009, 0.0005) // 0.0085 ± 1e-15
 * @example largestBoltM(0.008, 0.012, 0.001) // 0.008 ± 0
 */
export function largestBoltM(firstM: number, secondM: number, offsetM: number): number {
  return Math.max(0, Math.min(firstM, secondM, (firstM + secondM) / 2 - offsetM))
}
