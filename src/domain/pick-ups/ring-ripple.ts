import { exact, type Figure } from '../measure/figure.js'
import { quotient, scaled } from '../measure/propagation.js'
import { standardUncertainty } from '../measure/uncertainty.js'

/** What repeats every turn in the periods of the pulses, as a share of the mean period. */
export interface Ripple {
  /** Amplitude of the once-per-turn wave [%]. */
  readonly firstHarmonicPercent: Figure
  /** Error of the period at a joint [%]. */
  readonly jointPercent?: Figure
  /** Of all periods over a turn [%]. */
  readonly rmsPercent: number
}

/** A ring as `ringGapErrors` takes it, with what is expected of it. */
export interface RippledRing {
  readonly pulsesPerTurn: number
  readonly eccentricity: number
  /** Of a ring with one joint: the gap there, then the others. */
  readonly errors?: readonly number[]
  /** Of a ring in halves: extra width of the gaps at its two joints. */
  readonly joint?: number
}

/** Joints of a ring: how many, and the extra width of the tooth gap there over the mean pitch [%]. */
export interface RippleJoint {
  readonly count: number
  readonly pitchErrorPercent: Figure
}

/**
 * Ripple of the pulse periods of a ring at constant speed.
 *
 *     A = (e/r)·(N/π)·sin(π/N);  at a joint j·(1 − n/N)
 *     rms² = E(A²)/2 + E(j²)·(n/N)·(1 − n/N),  E(x²) = x² + u(x)²
 *
 * e is the eccentricity, r the radius of the teeth, N their number, n that of the joints, j the extra width of the gap at a joint over the mean pitch,
 * A the amplitude of the wave, E the expected value.
 *
 * The wave is the first order in e/r; where the wave and the joint meet is taken as unknown. Errors of the single teeth are not in it.
 *
 * @param eccentricityM - e. [m]
 * @param outsideDiameterM - 2·r. [m]
 * @param pulsesPerTurn - N. [1 .. 1000]
 * @param joint - Joints of a cut ring
 * @returns Shares of the mean period [%]
 * @throws {DomainError} `not-finite`
 * @see derived: eccentricity e on radius r gives ±e/r once per turn; JCGM 100:2008, 5.1.2
 * @example ringRipple(exact(0.0005), exact(0.1), 1000).firstHarmonicPercent.value // 1 ± 1e-5
 * @example ringRipple(exact(0), exact(0.1), 4, { count: 2, pitchErrorPercent: exact(20) }).jointPercent.value // 10 ± 1e-12
 * @example ringRipple(exact(0), exact(0.1), 4, { count: 2, pitchErrorPercent: exact(20) }).rmsPercent // 10 ± 1e-12
 */
export function ringRipple(
  eccentricityM: Figure,
  outsideDiameterM: Figure,
  pulsesPerTurn: number,
  joint?: RippleJoint,
): Ripple {
  const wave = (pulsesPerTurn / Math.PI) * Math.sin(Math.PI / pulsesPerTurn)
  const firstHarmonicPercent = scaled(quotient(eccentricityM, outsideDiameterM), 200 * wave)
  const ofWave = meanSquare(firstHarmonicPercent) / 2
  if (joint === undefined) return { firstHarmonicPercent, rmsPercent: Math.sqrt(ofWave) }
  const share = joint.count / pulsesPerTurn
  return {
    firstHarmonicPercent,
    jointPercent: scaled(joint.pitchErrorPercent, 1 - share),
    rmsPercent: Math.sqrt(ofWave + meanSquare(joint.pitchErrorPercent) * share * (1 - share)),
  }
}

const meanSquare = (figure: Figure) => figure.value ** 2 + standardUncertainty(figure) ** 2

/**
 * The expected ring in the terms of a simulation.
 *
 *     eccentricity = e/r;  joint: the extra width of the gaps there as a share of the mean pitch
 *
 * e is the eccentricity, r the radius of the teeth.
 *
 * @param eccentricityM - e. [m]
 * @param outsideDiameterM - 2·r. [m]
 * @param pulsesPerTurn - Teeth. [1 .. 1000]
 * @param joint - Joints of a cut ring
 * @returns What `ring` of a simulation takes
 * @throws {DomainError} `not-finite`
 * @see `ringGapErrors`, the functions it is made of
 * @example rippledRing(exact(0.0005), exact(0.1), 8).eccentricity // 0.01 ± 1e-15
 * @example rippledRing(exact(0), exact(0.1), 3, { count: 1, pitchErrorPercent: exact(5) }).errors // [0.05,0,0]
 */
export function rippledRing(
  eccentricityM: Figure,
  outsideDiameterM: Figure,
  pulsesPerTurn: number,
  joint?: RippleJoint,
): RippledRing {
  const ring = { pulsesPerTurn, eccentricity: quotient(scaled(eccentricityM, 2), outsideDiameterM).value }
  if (joint === undefined) return ring
  const error = joint.pitchErrorPercent.value / 100
  if (joint.count === 2) return { ...ring, joint: error }
  return { ...ring, errors: Array.from({ length: pulsesPerTurn }, (_, gap) => (gap === 0 ? error : 0)) }
}

/**
 * Noise of a speed that is read once a pulse, from the ripple of the ring.
 *
 *     u(V) = V·rms/100
 *
 * @param rmsPercent - Ripple of the periods. [%]
 * @param speedMPerS - V. [m/s]
 * @returns Noise of one reading, rms [m/s]
 * @see derived: a speed is in proportion to 1/period; first order
 * @example rippleNoise(2, 50).value // 1 ± 1e-12
 */
export function rippleNoise(rmsPercent: number, speedMPerS: number): Figure {
  return exact((speedMPerS * rmsPercent) / 100)
}
