import { DomainError, within } from '../errors.js'
import type { MersenneTwister } from './random.js'

/** Errors of a pulse ring: deviations of its gaps from even spacing, as shares of the mean pitch. */
export interface RingFaults {
  readonly pulsesPerTurn: number
  /** Error of each gap, in order of passing: (gap − pitch)/pitch. */
  readonly errors?: readonly number[]
  /** Spread of random gap errors. */
  readonly rms?: number
  /** Offset of the center over the pitch radius. */
  readonly eccentricity?: number
  /** Extra width of the two gaps at the joint of a ring cut in halves. */
  readonly joint?: number
}

/** Minimum gap as a share of the pitch: in a narrower one the next edge would coincide with or precede the last. */
const NARROWEST_GAP = 0.02

/**
 * Gap errors of a ring, from its faults.
 *
 *     eccentricity: (e/r)·N/(2π) · (sin 2π(i + 1)/N − sin 2πi/N);   halves: gaps 0 and N/2 wider
 *     Σ eᵢ = 0: the gaps of a ring share one full turn
 *
 * N is the number of pulses in a turn; e is the eccentricity, r the radius.
 *
 * Given errors, random errors and those of a joint are centered on their mean, since a ring closes.
 *
 * @param faults - Faults as shares of the mean pitch, and pulses per turn. [1 .. 1e6]
 * @param random - Generator for the random errors
 * @returns One error per gap, in order of passing; they sum to zero
 * @throws {DomainError} `ring-errors-count`, `ring-gap-closed`, `out-of-range`
 * @see errors over a turn sum to zero; eccentricity e on radius r gives ±e/r once per turn (derived)
 * @example Array.from(ringGapErrors({ pulsesPerTurn: 4, errors: [0.02, 0, 0, -0.02] }, generator(1))) // [0.02,0,0,-0.02]
 * @example Array.from(ringGapErrors({ pulsesPerTurn: 4, joint: 0.2 }, generator(1))) // [0.1,-0.1,0.1,-0.1]
 * @example ringGapErrors({ pulsesPerTurn: 4, errors: [0] }, generator(1)) // throws ring-errors-count
 */
export function ringGapErrors(faults: RingFaults, random: MersenneTwister): Float64Array {
  const { pulsesPerTurn: n, errors: listed, rms = 0, eccentricity = 0, joint = 0 } = faults
  within('pulsesPerTurn', n, 1, 1e6)
  if (listed !== undefined && listed.length !== n) {
    throw new DomainError(
      'ring-errors-count',
      `errors: expected ${n}, one for each gap of the ring, got ${listed.length}`,
      { pointer: '/errors', expected: n, got: listed.length },
    )
  }
  const errors = new Float64Array(n)
  for (let i = 0; i < n; i++) {
    errors[i] = (listed?.[i] ?? 0) + (rms > 0 ? rms * random.normal() : 0)
  }
  if (joint !== 0) {
    errors[0]! += joint
    // A ring of one pulse has one joint.
    if (n > 1) errors[n >> 1]! += joint
  }
  const mean = errors.reduce((total, error) => total + error, 0) / n
  const wave = (eccentricity * n) / (2 * Math.PI)
  for (let i = 0; i < n; i++) {
    const turn = Math.sin((2 * Math.PI * (i + 1)) / n) - Math.sin((2 * Math.PI * i) / n)
    errors[i] = errors[i]! - mean + wave * turn
    if (errors[i]! < NARROWEST_GAP - 1) {
      throw new DomainError(
        'ring-gap-closed',
        `gap ${i} of the ring: its error of ${(100 * errors[i]!).toFixed(1)} % of the pitch leaves less than ${100 * NARROWEST_GAP} % of it; give smaller errors`,
        { index: i, pointer: '' },
      )
    }
  }
  return errors
}
