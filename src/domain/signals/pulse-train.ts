import type { Stretch } from './profile.js'
import type { MersenneTwister } from './random.js'

/** Source of a pulse train: ring, losses, extra pulses, jitter. */
export interface PulseSource {
  readonly pulsesPerM: number
  /** Error of each gap of the ring as a share of the pitch; the errors sum to zero. */
  readonly gapErrors: Float64Array
  /** Probability that a pulse is missed. */
  readonly missed: number
  /** Probability that an extra pulse precedes a pulse. */
  readonly extra: number
  /** Time error of each edge, rms. */
  readonly edgeJitterS: number
}

export interface PulseTrain {
  /** Times of the resulting pulses, ascending. */
  readonly timesS: Float64Array
  /** Numbers of the pulses of the ring that were missed; the first pulse of the ring is 0. */
  readonly missed: Int32Array
  /** Indexes of the extra pulses in `timesS`. */
  readonly extra: Int32Array
}

/**
 * Pulse train of a ring during a drive.
 *
 *     edge k at s = (k + ½ + Σ errors of the gaps before it)/K;   in its stretch t = t₀ + 2·Δs/(v₀ + √(v₀² + 2·a·Δs))
 *
 * K is pulses per distance, s the distance traveled, v₀ and a the speed and the acceleration of the stretch.
 *
 * This form of the root is accurate for small accelerations and starts from rest. The first edge comes after half a pitch,
 * so gap 0 of the ring is the one between the first two pulses.
 *
 * @param source - Ring, losses and extras
 * @param stretches - The drive
 * @param random - Generator; used only if a probability or the jitter is above zero
 * @returns Times of the pulses, and which are missed or extra
 * @see uniform acceleration (derived)
 * @example pulseTrain({ pulsesPerM: 1, gapErrors: new Float64Array(4), missed: 0, extra: 0, edgeJitterS: 0 }, stretchesOf([{ tS: 0, speedMPerS: 2 }, { tS: 2, speedMPerS: 2 }]), generator(1)).timesS.join() // "0.25,0.75,1.25,1.75"
 */
export function pulseTrain(
  source: PulseSource,
  stretches: readonly Stretch[],
  random: MersenneTwister,
): PulseTrain {
  const { pulsesPerM, gapErrors, missed, extra, edgeJitterS } = source
  const turn = gapErrors.length
  const distanceM = stretches.at(-1)!.endM
  const maxPulses = Math.ceil(distanceM * pulsesPerM) + turn + 1
  const timesS = new Float64Array(extra > 0 ? 2 * maxPulses : maxPulses)
  const missedAt: number[] = []
  const extraAt: number[] = []
  let length = 0
  let at = 0
  let { startS, startM, startMPerS, accelerationMPerS2, endM } = stretches[0]!
  let tooth = 0
  // The errors of a turn sum to zero only within rounding: the distance restarts from the count at each turn.
  let turnStart = 0.5
  let shift = 0
  let last = 0
  for (let k = 0; ; k++) {
    const edgeM = (turnStart + tooth + shift) / pulsesPerM
    while (edgeM > endM && at < stretches.length - 1) {
      at++
      ;({ startS, startM, startMPerS, accelerationMPerS2, endM } = stretches[at]!)
    }
    if (edgeM > endM) break
    const delta = edgeM - startM
    const root = Math.sqrt(Math.max(0, startMPerS * startMPerS + 2 * accelerationMPerS2 * delta))
    let time = delta === 0 ? startS : startS + (2 * delta) / (startMPerS + root)
    if (edgeJitterS > 0) time = Math.max(last, time + edgeJitterS * random.normal())
    if (extra > 0 && k > 0 && random.uniform() < extra) {
      extraAt.push(length)
      timesS[length++] = last + random.uniform() * (time - last)
    }
    if (missed > 0 && random.uniform() < missed) missedAt.push(k)
    else timesS[length++] = time
    last = time
    shift += gapErrors[tooth]!
    if (++tooth === turn) {
      tooth = 0
      shift = 0
      turnStart += turn
    }
  }
  return {
    timesS: timesS.subarray(0, length),
    missed: Int32Array.from(missedAt),
    extra: Int32Array.from(extraAt),
  }
}
