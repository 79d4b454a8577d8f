import { DomainError } from '../errors.js'

/** True speed at a moment, linear between points. Two points at the same time are a step. */
export interface ProfilePoint {
  readonly tS: number
  readonly speedMPerS: number
}

/** A stretch of constant acceleration. */
export interface Stretch {
  readonly startS: number
  readonly endS: number
  readonly startMPerS: number
  readonly endMPerS: number
  readonly accelerationMPerS2: number
  readonly startM: number
  readonly endM: number
}

/**
 * Stretches of constant acceleration of a speed profile, with the distance traveled.
 *
 *     a = (v₁ − v₀)/(t₁ − t₀),  s₁ = s₀ + (v₀ + v₁)/2 · (t₁ − t₀)
 *
 * v is the speed, s the distance traveled and t the time at the start (0) and at the end (1) of a stretch, a the acceleration.
 *
 * @param profile - At least two points in order of time, not all at the same time
 * @returns Stretches longer than zero, in order; time and distance start at zero with the first point
 * @throws {DomainError} `too-few-readings`, `times-not-increasing`
 * @see uniform acceleration (derived)
 * @example stretchesOf([{ tS: 0, speedMPerS: 0 }, { tS: 10, speedMPerS: 20 }])[0].endM // 100 ± 0
 * @example stretchesOf([{ tS: 1, speedMPerS: 5 }, { tS: 0, speedMPerS: 5 }]) // throws times-not-increasing
 */
export function stretchesOf(profile: readonly ProfilePoint[]): Stretch[] {
  if (profile.length < 2) {
    throw new DomainError('too-few-readings', `profile: expected at least 2 points, got ${profile.length}`, {
      pointer: '',
      min: 2,
    })
  }
  const stretches: Stretch[] = []
  const originS = profile[0]!.tS
  let startM = 0
  for (let i = 1; i < profile.length; i++) {
    const from = profile[i - 1]!
    const to = profile[i]!
    if (to.tS < from.tS) {
      throw new DomainError(
        'times-not-increasing',
        `t: item ${i} (${to.tS} s) is earlier than the item before it (${from.tS} s); put the points in order of time`,
        { pointer: `/${i}/t`, index: i },
      )
    }
    if (to.tS === from.tS) continue
    const durationS = to.tS - from.tS
    const endM = startM + ((from.speedMPerS + to.speedMPerS) / 2) * durationS
    stretches.push({
      startS: from.tS - originS,
      endS: to.tS - originS,
      startMPerS: from.speedMPerS,
      endMPerS: to.speedMPerS,
      accelerationMPerS2: (to.speedMPerS - from.speedMPerS) / durationS,
      startM,
      endM,
    })
    startM = endM
  }
  if (stretches.length === 0) {
    throw new DomainError(
      'times-not-increasing',
      't: every point has the same time; give at least two different times',
      {
        pointer: `/${profile.length - 1}/t`,
      },
    )
  }
  return stretches
}
