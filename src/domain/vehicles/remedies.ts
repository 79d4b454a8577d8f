import { type Response, readingOf } from '../drive-paths/path.js'
import type { RuleVerdict } from '../gauges/verdicts.js'
import type { Mutable } from '../mutable.js'
import { type AimJudgment, judgeReading, ROUNDING } from './aim.js'
import { type Change, computedChanges, partChanges, type RemedyAction } from './changes.js'
import { evaluateVehiclePath } from './evaluate.js'
import type { EvaluatedPath, RecordedPart, RemedyCost, Vehicle } from './vehicle.js'
import { percentText, speedText } from './words.js'

/** One way to put a reading right. */
export interface Remedy extends Change {
  readonly pathIndex: number
  readonly line: Response
  /** Error of the reading where it is largest, of the speeds that the aim is judged at. */
  readonly errorFraction: number
  readonly withinAim: boolean
  readonly verdict?: RuleVerdict
  readonly leaves: readonly string[]
  readonly cost?: RemedyCost & { readonly total?: number }
}

/** Most recorded parts that are offered for one path. */
const MOST_RECORDED = 8

/** A change that leaves the slope farther from true than this puts nothing right; common practice, no source. */
const MOST_LEFT_FRACTION = 0.1

/** A change that brings the reading nearer to the aim by less than this is not worth making. */
const LEAST_GAIN_FRACTION = 0.001

/** What a change costs, as far as the caller said. */
function costOf(vehicle: Vehicle, action: RemedyAction): Remedy['cost'] {
  const known = vehicle.costs?.[action]
  if (known === undefined) return undefined
  const { pricePerHour } = vehicle
  const hours = (known.minutes ?? 0) / 60
  if (known.price === undefined && (known.minutes === undefined || pricePerHour === undefined)) return known
  return { ...known, total: (known.price ?? 0) + hours * (pricePerHour ?? 0) }
}

const rankOf = (verdict: RuleVerdict | undefined) =>
  verdict === undefined || verdict.result === 'conforms' ? 0 : verdict.result === 'not-proven' ? 1 : 2

/** Whether a dial is put right, or nearer to it, and never made to read low or to break its rule where it did not. */
function isBetter(now: AimJudgment, before: EvaluatedPath, then: AimJudgment, after: EvaluatedPath): boolean {
  const gained = rankOf(before.verdict) - rankOf(after.verdict)
  if (after.verdict?.result === 'does-not-conform' && gained < 0) return false
  if (then.withinAim) return !now.withinAim || gained > 0
  if (then.lowestFraction < -ROUNDING && now.lowestFraction >= -ROUNDING) return false
  return now.shortFraction + now.overFraction - then.shortFraction - then.overFraction > LEAST_GAIN_FRACTION
}

/** The change made and the vehicle evaluated again: what a remedy promises is what a check of the changed vehicle answers. */
function remedyOf(vehicle: Vehicle, before: EvaluatedPath, now: AimJudgment, change: Change): Remedy[] {
  const { index } = before
  // Not by a spread, which is slow where properties follow it.
  const changed: Vehicle = Object.assign({}, vehicle, { paths: vehicle.paths.with(index, change.path) })
  const after = evaluateVehiclePath(changed, index)
  const then = judgeReading(after.line, after.speedsMPerS)
  const isLeftFarOff = Math.abs(after.line.indicatedPerTrue.value - 1) > MOST_LEFT_FRACTION
  if ((isLeftFarOff && change.action !== 'set-pointer-zero') || !isBetter(now, before, then, after)) return []
  const remedy: Mutable<Remedy> = Object.assign({}, change, {
    pathIndex: index,
    line: after.line,
    errorFraction: then.errorFraction,
    withinAim: then.withinAim,
    leaves: whatStays(vehicle, after, then),
  })
  if (after.verdict !== undefined) remedy.verdict = after.verdict
  const cost = costOf(vehicle, change.action)
  if (cost !== undefined) remedy.cost = cost
  return [remedy]
}

const percent = (fraction: number) => percentText(Math.abs(fraction))

function whatStays(vehicle: Vehicle, { line, path }: EvaluatedPath, then: AimJudgment): string[] {
  const stays: string[] = []
  if (then.lowestFraction < -ROUNDING)
    stays.push(`The dial still reads up to ${percent(then.lowestFraction)} low.`)
  else if (then.shortFraction > 0) stays.push('The dial may still read low, given the doubt of the figures.')
  if (then.overFraction > 0) stays.push(`The dial still reads up to ${percent(then.highestFraction)} high.`)
  const record = line.recordedPerTrue.value - 1
  if (Math.abs(record) > 0.01)
    stays.push(`The distance record runs ${percent(record)} ${record > 0 ? 'fast' : 'slow'}.`)
  const offset = line.offsetMPerS.value
  if (offset !== 0) {
    const shown = speedText(path.unit, Math.abs(offset))
    stays.push(
      `The zero of the head stays: at every speed it reads ${shown} ${offset > 0 ? 'more' : 'less'}.`,
    )
  }
  const { dialMaxMPerS } = path.head
  if (dialMaxMPerS !== undefined && vehicle.topSpeedMPerS !== undefined) {
    if (readingOf(line)(vehicle.topSpeedMPerS).indicatedMPerS > dialMaxMPerS)
      stays.push('The dial ends below the top speed.')
  }
  return stays
}

/** A recorded part comes before a computed ideal, unless its fit statements speak against it. */
const partRank = ({ part }: Remedy) => (part === undefined ? 1 : (part.support ?? 0.5) < 0.5 ? 2 : 0)

/** Costs are compared only where both are known. */
const costDifference = (a: Remedy, b: Remedy) =>
  a.cost?.total === undefined || b.cost?.total === undefined ? 0 : a.cost.total - b.cost.total

const nearest = (a: Remedy, b: Remedy) => Math.abs(a.errorFraction) - Math.abs(b.errorFraction)

/**
 * Best first: within the aim; least likely to break the rule; a recorded part; least left wrong; cheapest; outside the aim nearest to true.
 * Within it the order stays as it is: the usual work, gears before adapters before a workshop.
 */
function rank(a: Remedy, b: Remedy): number {
  return (
    Number(b.withinAim) - Number(a.withinAim) ||
    rankOf(a.verdict) - rankOf(b.verdict) ||
    partRank(a) - partRank(b) ||
    a.leaves.length - b.leaves.length ||
    costDifference(a, b) ||
    (a.withinAim ? 0 : nearest(a, b))
  )
}

/**
 * Ways to put the readings of a vehicle right, best first.
 *
 *     each change made in the path, the path evaluated again, and kept where it brings the dial into the aim or nearer to it
 *
 * Each path that lies outside the aim, or that its rule does not pass, is looked through. The aim is judged at the round speeds of the dial from
 * 20 km/h up: at most 4 % over, and under with a probability of at most 5 %, so a figure in doubt is aimed over by a guard band. What
 * leaves the slope more than 10 % off, makes a dial under-read that did not, or changes nothing, is no remedy.
 *
 * @param vehicle - The vehicle
 * @param evaluated - Its paths, evaluated
 * @param parts - Recorded parts that may stand in a path; each comes before a computed ideal
 * @returns Remedies, each with the path as it then is; none for a path that needs none
 * @throws {DomainError} `rule-needs-dial-max`
 * @see US Army TM 5-3820-256-24-4 (new adapter, sometimes a new driven gear); TM 9-1829A (regulation of the head); JCGM 106:2012, 8.3.2 (guard band)
 * @example vehicleRemedies(EXAMPLE_VEHICLE, [evaluateVehiclePath(EXAMPLE_VEHICLE, 0)]).some((r) => r.action === 'change-driven-gear' && r.stage.teeth.driven === 19) // true
 */
export function vehicleRemedies(
  vehicle: Vehicle,
  evaluated: readonly EvaluatedPath[],
  parts: readonly RecordedPart[] = [],
): Remedy[] {
  return evaluated
    .flatMap((path) => {
      const now = judgeReading(path.line, path.speedsMPerS)
      if (now.withinAim && path.verdict?.result !== 'does-not-conform') return []
      const made = (change: Change) => remedyOf(vehicle, path, now, change)
      const recorded = parts.flatMap((part) => partChanges(path, part)).flatMap(made)
      return [
        ...recorded.sort(nearest).sort(rank).slice(0, MOST_RECORDED),
        ...computedChanges(path).flatMap(made),
      ]
    })
    .sort(rank)
}
