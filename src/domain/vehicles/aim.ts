import { type AimJudgment, judgeErrors, ROUNDING } from '../drive-paths/judgment.js'
import { guardOf, type Reading, type Response, readingOf } from '../drive-paths/path.js'
import { probabilityBeyond } from '../measure/conformity.js'
import { type Figure, scaled, spreadOf } from '../measure/figure.js'
import { reachBelow } from '../measure/spread.js'
import { toSi } from '../measure/units.js'

/** A reading is to be true to 4 % over, never under. */
export const MAX_OVER_FRACTION = 0.04
const REMEDY_AIM = { minFraction: 0, maxFraction: MAX_OVER_FRACTION }

/** A reading farther from true than this factor is first of all a slip in the profile: no wear, tire or gear that meshes explains it; common practice, no source. */
export const SLIP_FACTOR = 1.5

/** Under-reading is looked for from here up, where rules that forbid it start (StVZO 57: 20 km/h). [m/s] */
const UNDER_READ_FROM_M_PER_S = toSi('speed', 'kmh', 20)

/** One-sided 95 % quantile of the normal distribution: "never under" is under with a probability of at most 5 %. */
const Z_ONE_SIDED_95 = 1.6448536269514722

/** What is aimed at: a hair more than the quantile, so that neither rounding nor the far tail undoes it. */
const Z_AIMED = 1.65

/** A guard band that takes this share of the slope leaves none that is never under. */
const MAX_GUARD_SHARE = 0.9

/** Rounds in which the guard band settles: each leaves at most the uncertainty's share of its error, 0.9^200 = 7e-10. */
const MAX_ROUNDS = 200

/** What the reading of a dial hangs on. */
type Line = Pick<Response, 'indicatedPerTrue' | 'offsetMPerS'>

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

/**
 * Probability that a dial shows less than the true speed, at its worst judged speed.
 *
 *     p = max over V of P(y < V)
 *
 * @param reading - What the dial shows at a true speed, with its standard uncertainty
 * @param speedsMPerS - Round true speeds of the dial, at least one. [m/s, > 0]
 * @returns p, and the speed at which it is reached [m/s]; 0 where p is 0
 * @throws {DomainError} `not-finite`
 * @see JCGM 106:2012, 7.4
 * @example underReading(readingOf({ indicatedPerTrue: uncertain(1, 'tire', 0.01), offsetMPerS: exact(0) }), [10, 20]).probability // 0.5 ± 1e-9
 */
export function underReading(
  reading: (trueMPerS: number) => Reading,
  speedsMPerS: readonly number[],
): { readonly probability: number; readonly atMPerS: number } {
  let worst = { probability: 0, atMPerS: 0 }
  for (const trueMPerS of judgedSpeeds(speedsMPerS)) {
    const { unstoppedMPerS, spread } = reading(trueMPerS)
    const probability = probabilityBeyond('below', unstoppedMPerS - trueMPerS, spread, unstoppedMPerS)
    // Of speeds that are equally bad the lowest is named, and not the one that rounding prefers.
    if (probability > worst.probability + ROUNDING) worst = { probability, atMPerS: trueMPerS }
  }
  return worst
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
export function judgeReading(line: Line, speedsMPerS: readonly number[]): AimJudgment {
  const reading = readingOf(line)
  const guard = guardOf(line, Z_ONE_SIDED_95)
  let lowestFraction = Number.POSITIVE_INFINITY
  let highestFraction = Number.NEGATIVE_INFINITY
  let guardedFraction = Number.POSITIVE_INFINITY
  for (const trueMPerS of judgedSpeeds(speedsMPerS)) {
    const { indicatedMPerS } = reading(trueMPerS)
    const error = indicatedMPerS / trueMPerS - 1
    lowestFraction = Math.min(lowestFraction, error)
    highestFraction = Math.max(highestFraction, error)
    guardedFraction = Math.min(guardedFraction, error - guard(trueMPerS) / trueMPerS)
  }
  return judgeErrors({ lowestFraction, highestFraction, guardedFraction }, REMEDY_AIM)
}

/** What the guard band takes of a slope, as a share of it, whatever the slope. */
const guardShare = (slope: Figure) => reachBelow(spreadOf(slope), Z_AIMED) / slope.value

/**
 * Least slope of a dial that is hardly ever under, its offset and the relative uncertainty of its slope as they are.
 *
 *     t = max (V − a + g(t·V + a))/V
 *
 * a is the offset of the dial, g how far its reading may lie below the estimate with a probability above 5 %, 1.65·u where it is normal, at each
 * judged speed V.
 *
 * @param line - Slope and offset of the dial
 * @param speedsMPerS - Its round true speeds, at least one. [m/s, > 0]
 * @returns t, or undefined where the slope is known so badly that no slope rules out under-reading
 * @throws {DomainError} `not-finite`
 * @see JCGM 106:2012, 8.3.2 (guard band)
 * @example minSlopeNeverUnder({ indicatedPerTrue: uncertain(1, 'tire', 0.01), offsetMPerS: exact(0) }, [10]) // 1.016777 ± 1e-6
 * @example minSlopeNeverUnder({ indicatedPerTrue: exact(1), offsetMPerS: exact(-1) }, [10, 20]) // 1.18 ± 1e-12
 */
export function minSlopeNeverUnder(line: Line, speedsMPerS: readonly number[]): number | undefined {
  const slope = line.indicatedPerTrue
  const a = line.offsetMPerS.value
  if (guardShare(slope) >= MAX_GUARD_SHARE) return undefined
  const judged = judgedSpeeds(speedsMPerS)
  let least = 1
  for (let round = 0; round < MAX_ROUNDS; round++) {
    const guard = guardOf(
      { indicatedPerTrue: scaled(slope, least / slope.value), offsetMPerS: line.offsetMPerS },
      Z_AIMED,
    )
    const next = Math.max(...judged.map((speed) => 1 + (guard(speed) - a) / speed))
    const settled = Math.abs(next - least) < ROUNDING
    least = next
    if (settled) break
  }
  return least
}

/**
 * Slopes of a dial at which its readings lie within the aim, its offset and the relative uncertainty of its slope as they are.
 *
 *     least: t = max (V − a + g(t·V + a))/V      most: t = min 1.04 − a/V
 *
 * a is the offset of the dial, g how far its reading may lie below the estimate with a probability above 5 %: 1.65·u where it is normal.
 *
 * Where no slope does, because the offset or the uncertainty is too large, the least is the one for a dial without offset.
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
  line: Line,
  speedsMPerS: readonly number[],
): { readonly least: number; readonly most: number } {
  const a = line.offsetMPerS.value
  const most = Math.min(...judgedSpeeds(speedsMPerS).map((speed) => 1 + MAX_OVER_FRACTION - a / speed))
  const least = minSlopeNeverUnder(line, speedsMPerS)
  if (least !== undefined && least <= most) return { least, most }
  // Without an offset the guard band is a share of the slope; beyond nine tenths there is none that helps.
  const bare = 1 / (1 - Math.min(MAX_GUARD_SHARE, guardShare(line.indicatedPerTrue)))
  return { least: bare, most: Math.max(bare, 1 + MAX_OVER_FRACTION) }
}
