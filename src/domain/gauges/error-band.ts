import { type Response, readingOf } from '../drive-paths/path.js'
import { type EndSpeeds, type IndicatedLimits, speedLimitsAt, turningSpeeds } from './limits.js'
import type { NamedRule } from './verdicts.js'

/** Limit of the error under a rule at one true speed, on one side. */
export interface ErrorLimit {
  readonly trueMPerS: number
  readonly errorMPerS: number
}

/** Limits of the error over a range of true speeds, joined by straight lines, or at single speeds if the rule names only those. */
export interface ErrorBand {
  readonly kind: 'lines' | 'points'
  readonly lower: readonly ErrorLimit[]
  readonly upper: readonly ErrorLimit[]
}

type Side = 'lowerMPerS' | 'upperMPerS'

/**
 * The band that a rule allows for the error of a dial, for a plot of error against true speed.
 *
 *     L(V) − V ≤ error ≤ U(V) − V, L and U the limits of the indicated speed at the true speed V
 *
 * Between two breakpoints a limit is a straight line, so it is evaluated inside the interval and extended to its ends: a plot need not show
 * whether a rule includes its first speed.
 *
 * @param named - Rule under its id
 * @param line - Slope and offset of the dial: some rules start at a mark of the dial
 * @param fromMPerS - Low end of the plot. [m/s, >= 0]
 * @param toMPerS - High end of the plot. [m/s, > fromMPerS]
 * @param speeds - Last mark of the dial and top speed. [m/s]
 * @returns Limits by ascending true speed; no points on a side without a limit
 * @throws {DomainError} `rule-needs-dial-max`
 * @see the rules themselves, docs/sources.md; geometry of straight lines: derived
 * @example errorBand(tableRule('un-r39'), { indicatedPerTrue: exact(1), offsetMPerS: exact(0) }, 0, 100 / 3.6).upper[1].errorMPerS * 3.6 // 14 ± 1e-9
 */
export function errorBand(
  named: NamedRule,
  line: Pick<Response, 'indicatedPerTrue' | 'offsetMPerS'>,
  fromMPerS: number,
  toMPerS: number,
  speeds: EndSpeeds = {},
): ErrorBand {
  const { speed } = named.rule
  if (speed === undefined) return { kind: 'lines', lower: [], upper: [] }
  const inside = (trueMPerS: number) => trueMPerS >= fromMPerS && trueMPerS <= toMPerS
  if (speed.kind === 'points') {
    const points = speed.points.filter((point) => inside(point.trueMPerS))
    const limits = (side: Side) =>
      points.map((point) => ({ trueMPerS: point.trueMPerS, errorMPerS: point[side] - point.trueMPerS }))
    return { kind: 'points', lower: limits('lowerMPerS'), upper: limits('upperMPerS') }
  }

  const reading = readingOf(line)
  const turning = turningSpeeds(named.rule, reading, speeds).filter(inside)
  const ends = [fromMPerS, ...turning, toMPerS].sort((a, b) => a - b)
  const limitsAt = (trueMPerS: number): IndicatedLimits =>
    speedLimitsAt(named.rule, trueMPerS, reading(trueMPerS).indicatedMPerS, speeds) ?? {}
  const pieces = ends.slice(1).map((end, index) => {
    const start = ends[index]!
    const near = start + (end - start) / 4
    const far = end - (end - start) / 4
    return { start, end, near, far, atNear: limitsAt(near), atFar: limitsAt(far) }
  })
  const limits = (side: Side): ErrorLimit[] => {
    const out: ErrorLimit[] = []
    for (const { start, end, near, far, atNear, atFar } of pieces) {
      const low = atNear[side]
      const high = atFar[side]
      if (low === undefined || high === undefined || far <= near) continue
      const slope = (high - far - (low - near)) / (far - near)
      for (const trueMPerS of [start, end]) {
        if (out.at(-1)?.trueMPerS === trueMPerS) continue
        out.push({ trueMPerS, errorMPerS: low - near + slope * (trueMPerS - near) })
      }
    }
    return out
  }
  return { kind: 'lines', lower: limits('lowerMPerS'), upper: limits('upperMPerS') }
}
