import { guardOf, type Response, readingOf } from '../drive-paths/path.js'
import { scaled, spreadOf } from '../measure/figure.js'
import { reachBelow } from '../measure/spread.js'
import { toSi } from '../measure/units.js'

/** A reading is to be true to 4 % over, never under. */
const MOST_OVER_FRACTION = 0.04

/** A reading farther from true than this factor is first of all a slip in the profile: no wear, tire or gear that meshes explains it; common practice, no source. */
export const SLIP_FACTOR = 1.5

/** Under-reading is looked for from here up, where rules that forbid it start (StVZO 57: 20 km/h). [m/s] */
const UNDER_READ_FROM_M_PER_S = toSi('speed', 'kmh', 20)

/** One-sided 95 % quantile of the normal distribution: "never under" is under with a probability of at most 5 %. */
const Z_ONE_SIDED_95 = 1.6448536269514722

/** What is aimed at: a hair more than the quantile, so that neither rounding nor the far tail undoes it. */
const Z_AIMED = 1.65

/** Rounds in which the guard band settles: each leaves at most the doubt's share of its error. */
const ROUNDS = 8

/** Fractions that differ by less are one: what rounding leaves of a computation, units changed included. */
export const ROUNDING = 1e-9

/**
 * Speeds at which a dial is judged: 20 km/h and its round ones from there up, so that the unit of the dial decides nothing; all round ones
 * where none lies so high.
 *
 *     V ≥ 20 km/h
 *
 * @param speedsMPerS - Round true speeds of the dial. [m/s]
 * @returns Those that count [m/s]
 * @see StVZO 57 (never under from 20 km/h)
 * @example judgedSpeeds([4, 8])[0] // 5.5556 ± 1e-4
 */
export function judgedSpeeds(speedsMPerS: readonly number[]): readonly number[] {
  const judged = speedsMPerS.filter((speed) => speed >= UNDER_READ_FROM_M_PER_S)
  const [lowest] = judged
  if (lowest === undefined) return speedsMPerS
  return lowest > UNDER_READ_FROM_M_PER_S * (1 + ROUNDING) ? [UNDER_READ_FROM_M_PER_S, ...judged] : judged
}

/**
 * By what factor a dial is off, either way.
 *
 *     f = max(b, 1/b)
 *
 * @param slope - b, indicated over true. [> 0]
 * @returns f, 1 for a true dial
 * @see definition of the reading
 * @example factorOff(0.25) // 4 ± 0
 */
export function factorOff(slope: number): number {
  return Math.max(slope, 1 / slope)
}

export interface AimJudgment {
  /** Errors of the reading, indicated over true less one: the least, the greatest, and the one farther from none. */
  readonly lowestFraction: number
  readonly highestFraction: number
  readonly errorFraction: number
  /** How far the reading lies below the least that is never under, as a fraction of the true speed; 0: nowhere. */
  readonly shortFraction: number
  /** How far the reading lies above the most that is aimed at; 0: nowhere. */
  readonly overFraction: number
  readonly withinAim: boolean
}

/**
 * How a reading lies to the aim: at no judged speed more than 4 % over, and at none under with a probability above 5 %.
 *
 *     e = y/V − 1      short = max(g(y)/V − e),  over = max(e − 4 %)
 *
 * g is how far the reading may lie below its estimate with a probability above 5 %: 1.645·u where it is normal.
 *
 * Over-reading counts by the best estimate, under-reading by its probability: one is a nuisance, the other a danger.
 *
 * @param line - Slope and offset of the dial
 * @param speedsMPerS - Its round true speeds, at least one. [m/s, > 0]
 * @returns The judgment
 * @see JCGM 106:2012, 8.3.2 (guard band); the aim: common practice, no source
 * @example judgeReading({ indicatedPerTrue: exact(1.03), offsetMPerS: exact(0) }, [10, 20]).withinAim // true
 * @example judgeReading({ indicatedPerTrue: uncertain(1, 'tire', 0.01), offsetMPerS: exact(0) }, [10, 20]).withinAim // false
 */
export function judgeReading(
  line: Pick<Response, 'indicatedPerTrue' | 'offsetMPerS'>,
  speedsMPerS: readonly number[],
): AimJudgment {
  const reading = readingOf(line)
  const guard = guardOf(line, Z_ONE_SIDED_95)
  let lowestFraction = Number.POSITIVE_INFINITY
  let highestFraction = Number.NEGATIVE_INFINITY
  let short = 0
  for (const trueMPerS of judgedSpeeds(speedsMPerS)) {
    const { indicatedMPerS } = reading(trueMPerS)
    const error = indicatedMPerS / trueMPerS - 1
    lowestFraction = Math.min(lowestFraction, error)
    highestFraction = Math.max(highestFraction, error)
    short = Math.max(short, guard(trueMPerS) / trueMPerS - error)
  }
  const over = highestFraction - MOST_OVER_FRACTION
  const shortFraction = short <= ROUNDING ? 0 : short
  const overFraction = over <= ROUNDING ? 0 : over
  return {
    lowestFraction,
    highestFraction,
    errorFraction: -lowestFraction > highestFraction ? lowestFraction : highestFraction,
    shortFraction,
    overFraction,
    withinAim: shortFraction === 0 && overFraction === 0,
  }
}

/**
 * Slopes of a dial at which its readings lie within the aim, its offset and the relative doubt of its slope as they are.
 *
 *     least: t = max (V − a + g(t·V + a))/V      most: t = min 1.04 − a/V
 *
 * a is the offset of the dial, g how far its reading may lie below the estimate with a probability above 5 %: 1.645·u where it is normal.
 *
 * Where no slope does, because the offset or the doubt is too large, the least is the one for a dial without offset.
 *
 * @param line - Slope and offset of the dial
 * @param speedsMPerS - Its round true speeds, at least one. [m/s, > 0]
 * @returns Least and most slope, least ≤ most
 * @throws {DomainError} `not-finite`
 * @see JCGM 106:2012, 8.3.2 (guard band)
 * @example slopesWithinAim({ indicatedPerTrue: exact(1.3), offsetMPerS: exact(0.1) }, [10, 20]).least // 0.995 ± 1e-12
 * @example slopesWithinAim({ indicatedPerTrue: uncertain(1, 'tire', 0.01), offsetMPerS: exact(0) }, [10]).least // 1.016777 ± 1e-6
 */
export function slopesWithinAim(
  line: Pick<Response, 'indicatedPerTrue' | 'offsetMPerS'>,
  speedsMPerS: readonly number[],
): { readonly least: number; readonly most: number } {
  const slope = line.indicatedPerTrue
  const a = line.offsetMPerS.value
  const judged = judgedSpeeds(speedsMPerS)
  const most = Math.min(...judged.map((speed) => 1 + MOST_OVER_FRACTION - a / speed))
  let least = 1
  for (let round = 0; round < ROUNDS; round++) {
    const guard = guardOf(
      { indicatedPerTrue: scaled(slope, least / slope.value), offsetMPerS: line.offsetMPerS },
      Z_AIMED,
    )
    const next = Math.max(...judged.map((speed) => 1 + (guard(speed) - a) / speed))
    const settled = Math.abs(next - least) < ROUNDING
    least = next
    if (settled) break
  }
  if (least <= most) return { least, most }
  // Without an offset the guard band is a share of the slope; beyond nine tenths there is none that helps.
  const share = Math.min(0.9, reachBelow(spreadOf(slope), Z_AIMED) / slope.value)
  const bare = 1 / (1 - share)
  return { least: bare, most: Math.max(bare, 1 + MOST_OVER_FRACTION) }
}
