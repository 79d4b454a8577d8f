import type { Stretch } from './ring-matching.js'

/** Consecutive missed pulses at one place. `index` is the item of the log after them. */
export interface MissedPulses {
  readonly index: number
  readonly count: number
  /** Gap of the ring in which they are missing, if the ring is known. */
  readonly gap: number
}

export interface ExtraPulse {
  readonly index: number
  readonly gap: number
}

export interface PulseEvents {
  readonly missed: readonly MissedPulses[]
  readonly extra: readonly ExtraPulse[]
}

/**
 * Missed and extra pulses between the first and the last pulse of each stretch; beyond them, at a stop, the log is inconclusive.
 *
 *     missed = c(j + 1) − c(j) − 1 between neighbors;  extra: every pulse between them that has no count
 *
 * c is the number of the gap that the matching counts at a pulse.
 *
 * @param stretches - Steady stretches with counted pulses
 * @param turn - Gaps of the ring
 * @param indexOf - Item of the log for a pulse
 * @returns Places of both
 * @see counting (derived)
 * @example pulseEvents([{ matching: { pulses: [0, 1, 3], counts: [0, 1, 4] }, phase: 0 }], 4, (pulse) => pulse) // {"missed":[{"index":3,"count":2,"gap":1}],"extra":[{"index":2,"gap":1}]}
 */
export function pulseEvents(
  stretches: ReadonlyArray<Pick<Stretch, 'matching' | 'phase'>>,
  turn: number,
  indexOf: (pulse: number) => number,
): PulseEvents {
  const events = { missed: [] as MissedPulses[], extra: [] as ExtraPulse[] }
  for (const { matching, phase } of stretches) {
    const { pulses, counts } = matching
    const gapAt = (place: number) => (counts[place]! + phase) % turn
    for (let place = 1; place < pulses.length; place++) {
      const gap = gapAt(place - 1)
      const steps = counts[place]! - counts[place - 1]!
      for (let j = pulses[place - 1]! + 1; j < pulses[place]!; j++)
        events.extra.push({ index: indexOf(j), gap })
      if (steps > 1) events.missed.push({ index: indexOf(pulses[place]!), count: steps - 1, gap })
    }
  }
  return events
}
