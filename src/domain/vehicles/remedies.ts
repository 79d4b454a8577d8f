import { type AimJudgment, ROUNDING } from '../drive-paths/judgment.js'
import { indicatedMPerS, type Response } from '../drive-paths/path.js'
import type { RuleVerdict } from '../gauges/rule-verdicts.js'
import type { Mutable } from '../mutable.js'
import { judgeReading, MAX_OVER_FRACTION } from './aim.js'
import { type Change, computedChanges, type RemedyAction } from './changes.js'
import { readingAfter, turnsOn, verdictAfter } from './evaluate.js'
import { isInputErrorLikely } from './input-errors.js'
import { partChanges } from './part-changes.js'
import { ROLL_OUT_PLUS_MINUS, rollOutFirst, withTireHeld, withTurns } from './roll-out.js'
import type { EvaluatedPath, PathFrame, RecordedPart, RemedyCost, Vehicle, VehiclePath } from './vehicle.js'
import { percentText, speedText } from './words.js'

/** One way to correct a reading. */
export interface Remedy extends Change {
  readonly pathIndex: number
  readonly line: Response
  /** Largest error of the reading over the judged speeds. */
  readonly errorFraction: number
  readonly withinAim: boolean
  readonly verdict?: RuleVerdict
  readonly remains: readonly string[]
  /** What to check before doing it. */
  readonly cautions?: readonly string[]
  /** Ranking criteria, with the tires at their estimate where their uncertainty dominates. */
  readonly merit: {
    readonly withinAim: boolean
    /** 0: no. */
    readonly breaksRule: number
    readonly remainsCount: number
  }
  readonly cost?: RemedyCost & { readonly total?: number }
}

/** What else may have to change with the tooth count of a gear; common practice, no source. */
const GEAR_CAUTIONS = [
  'A gear with another number of teeth has another outside diameter: compare it with the old one before buying.',
  'Its teeth must match the mating gear in helix angle and in hand (right-hand or left-hand).',
]
const CAUTIONS: Readonly<Partial<Record<RemedyAction, readonly string[]>>> = {
  'change-driven-gear': [
    ...GEAR_CAUTIONS,
    'Its housing or sleeve may have to be changed or readjusted too, so that the teeth mesh at the right depth.',
  ],
  'change-driving-gear': [
    ...GEAR_CAUTIONS,
    'It sits on a gearbox shaft: bore and width must match, and the driven gear or its housing may have to change with it.',
  ],
}

/** Prefix of a remedy for a path whose reading an input error in the profile would explain. */
const AFTER_CHECK = 'First check the profile for input errors, before buying any part. '

/** Maximum number of recorded parts offered for one path. */
const MAX_RECORDED = 8

/** A change that leaves a larger slope error than this is no remedy; common practice, no source. */
const MAX_LEFT_FRACTION = 0.1

/** Minimum gain towards the aim for a change to be worth making. */
const MIN_GAIN_FRACTION = 0.001

/** Cost of a change, as far as the caller gave it. */
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

/** A reading of a path, as it is or after a change, judged against the aim and, where that is asked for, by the rule. */
class Stand {
  readonly frame: PathFrame
  readonly line: Response
  readonly aim: AimJudgment
  private judged: { readonly verdict?: RuleVerdict | undefined } | undefined

  constructor(frame: PathFrame, line: Response, judged?: { readonly verdict?: RuleVerdict }) {
    this.frame = frame
    this.line = line
    this.aim = judgeReading(line, frame.judgedMPerS)
    this.judged = judged
  }

  get verdict(): RuleVerdict | undefined {
    this.judged ??= { verdict: verdictAfter(this.frame, this.line) }
    return this.judged.verdict
  }
}

/** A path to be corrected: as it is, and with its tires at their exact estimate where their uncertainty dominates. */
interface Case {
  readonly vehicle: Vehicle
  readonly evaluated: EvaluatedPath
  readonly now: Stand
  /** Present where the tires should be measured first. */
  readonly rollOut: Change | undefined
  /** The same as `now` where they need not. */
  readonly heldNow: Stand
  readonly isInputErrorLikely: boolean
}

function caseOf(vehicle: Vehicle, evaluated: EvaluatedPath, now: Stand): Case {
  const rollOut = rollOutFirst(vehicle, evaluated)
  return {
    vehicle,
    evaluated,
    now,
    rollOut,
    heldNow: rollOut === undefined ? now : standIn(withTireHeld(evaluated.frame), evaluated.path),
    isInputErrorLikely: isInputErrorLikely(evaluated),
  }
}

const standIn = (frame: PathFrame, path: VehiclePath) => new Stand(frame, readingAfter(frame, path).line)

/** Whether the estimate lies within the aim, or below it by no more than the uncertainty of a roll-out: then no fault is known that a part could correct. */
const readsTrue = ({ lowestFraction, overFraction }: AimJudgment) =>
  lowestFraction >= -ROLL_OUT_PLUS_MINUS && overFraction === 0

const breaks = (before: Stand, after: Stand) =>
  after.verdict?.result === 'does-not-conform' && rankOf(after.verdict) > rankOf(before.verdict)

/** Whether a change improves the dial: its largest error shrinks, it does not under-read more than before, and it does not newly break its rule. */
function isBetter(before: Stand, after: Stand): boolean {
  const { aim: now } = before
  const { aim: then } = after
  if (then.withinAim) {
    if (now.withinAim && !(rankOf(before.verdict) > rankOf(after.verdict))) return false
  } else {
    if (then.lowestFraction < Math.min(0, now.lowestFraction) - ROUNDING) return false
    if (Math.abs(then.errorFraction) >= Math.abs(now.errorFraction)) return false
    const gain = now.shortFraction + now.overFraction - then.shortFraction - then.overFraction
    if (!(gain > MIN_GAIN_FRACTION)) return false
  }
  return !breaks(before, after)
}

/** Makes the change and reads the path again, so that a remedy states what a check of the changed vehicle answers. */
function remedyOf(one: Case, change: Change): Remedy[] {
  const { vehicle, evaluated, now, heldNow } = one
  const { frame } = evaluated
  const { path, tire } = change
  const then = standIn(tire === undefined ? frame : withTurns(frame, turnsOn(path.axle, tire)), path)
  if (tire === undefined && Math.abs(then.line.indicatedPerTrue.value - 1) > MAX_LEFT_FRACTION) return []
  const isHeld = heldNow !== now && tire === undefined
  const held = isHeld ? standIn(heldNow.frame, path) : then
  if (tire === undefined && (!isBetter(heldNow, held) || breaks(now, then))) return []
  const { line, verdict, aim } = then
  const remaining = remainingOf(vehicle, path, then)
  const remedy: Mutable<Remedy> = {
    action: change.action,
    pointer: change.pointer,
    text: one.isInputErrorLikely && tire === undefined ? `${AFTER_CHECK}${change.text}` : change.text,
    path,
    pathIndex: frame.index,
    line,
    errorFraction: aim.errorFraction,
    withinAim: aim.withinAim,
    remains: remaining.map((text) => text()),
    merit: {
      withinAim: held.aim.withinAim,
      // Where the tire uncertainty dominates, "not proven" is no verdict on the change.
      breaksRule: heldNow === now ? rankOf(verdict) : Number(verdict?.result === 'does-not-conform'),
      remainsCount: (isHeld ? remainingOf(vehicle, path, held) : remaining).length,
    },
  }
  if (change.stage !== undefined) remedy.stage = change.stage
  if (change.constantPerM !== undefined) remedy.constantPerM = change.constantPerM
  if (change.part !== undefined) remedy.part = change.part
  if (tire !== undefined) remedy.tire = tire
  const cautions = CAUTIONS[change.action]
  if (cautions !== undefined) remedy.cautions = cautions
  if (verdict !== undefined) remedy.verdict = verdict
  const cost = costOf(vehicle, change.action)
  if (cost !== undefined) remedy.cost = cost
  return [remedy]
}

const percent = (fraction: number) => percentText(Math.abs(fraction))

/** An error that may remain after a change, and its text: it is written for the remedies that are offered alone. */
type Remaining = () => string

function remainingOf(vehicle: Vehicle, { unit, head }: VehiclePath, { line, aim }: Stand): Remaining[] {
  const remaining: Remaining[] = []
  if (aim.lowestFraction < -ROUNDING)
    remaining.push(() => `The dial still under-reads by up to ${percent(aim.lowestFraction)}.`)
  else if (aim.shortFraction > 0)
    remaining.push(() => 'The dial may still under-read, within the uncertainty.')
  if (aim.overFraction > 0) {
    const over = () => percentText(aim.highestFraction, [MAX_OVER_FRACTION])
    remaining.push(() => `The dial still over-reads by up to ${over()}.`)
  }
  const odometerError = line.odometerPerTrue.value - 1
  if (Math.abs(odometerError) > 0.01) {
    remaining.push(
      () => `The odometer ${odometerError > 0 ? 'over-reads' : 'under-reads'} by ${percent(odometerError)}.`,
    )
  }
  const offset = line.offsetMPerS.value
  if (offset !== 0) {
    const shown = () => speedText(unit, Math.abs(offset), [0])
    remaining.push(
      () =>
        `The zero error of the head remains: it ${offset > 0 ? 'adds' : 'takes off'} ${shown()} at every speed.`,
    )
  }
  const { topSpeedMPerS } = vehicle
  const { dialMaxMPerS } = head
  if (dialMaxMPerS !== undefined && topSpeedMPerS !== undefined) {
    if (indicatedMPerS(line, topSpeedMPerS) > dialMaxMPerS)
      remaining.push(() => 'At top speed the pointer would pass the last mark on the dial.')
  }
  return remaining
}

/** A recorded part ranks before a computed ideal, unless its fit reports are mostly negative. */
const partRank = ({ part }: Remedy) => (part === undefined ? 1 : (part.support ?? 0.5) < 0.5 ? 2 : 0)

/** Difference of the costs where both are known, else 0. */
const costDifference = (a: Remedy, b: Remedy) =>
  a.cost?.total === undefined || b.cost?.total === undefined ? 0 : a.cost.total - b.cost.total

const nearest = (a: Remedy, b: Remedy) => Math.abs(a.errorFraction) - Math.abs(b.errorFraction)

/**
 * Best first: a measurement on which the choice depends; within the aim; least likely to break the rule; a recorded part; fewest remaining errors;
 * cheapest; outside the aim, nearest to true. Within the aim the order of the changes is kept: gears before adapters before an instrument repairer.
 * The uncertainty of the tires is the same under every change, so it does not count where the tires should be measured first.
 */
function rank(a: Remedy, b: Remedy): number {
  return (
    Number(b.tire !== undefined) - Number(a.tire !== undefined) ||
    Number(b.merit.withinAim) - Number(a.merit.withinAim) ||
    a.merit.breaksRule - b.merit.breaksRule ||
    partRank(a) - partRank(b) ||
    a.merit.remainsCount - b.merit.remainsCount ||
    costDifference(a, b) ||
    (a.merit.withinAim ? 0 : nearest(a, b))
  )
}

/**
 * Ways to correct the readings of a vehicle, best first.
 *
 *     make each change in the path, read the path again (`readingAfter`), and keep the change if it brings the dial within the aim or nearer to it
 *
 * Covers each path whose reading lies outside the aim or breaks its rule. The aim applies at the round speeds of the dial from 20 km/h up: over-read
 * by at most 4 %, and under-read with a probability of at most 5 %, which a guard band ensures. A change is no remedy if it leaves a slope error of more
 * than 10 %, makes the dial under-read more than before, or leaves the largest error outside the aim as large as it was.
 *
 * Where the rolling circumference of the tires is computed and dominates the uncertainty, a roll-out comes first and the changes are compared with the tires
 * at their exact estimate. No change is offered where that estimate reads true: within the aim, or under-reading by at most 0.5 %.
 *
 * @param vehicle - The vehicle
 * @param evaluated - Its paths, evaluated
 * @param parts - Recorded parts that may go into a path; each ranks before a computed ideal
 * @returns Remedies, each with the path after the change; none for a path that needs none
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
      const now = new Stand(path.frame, path.line, path)
      const fails = path.verdict?.result === 'does-not-conform'
      if (now.aim.withinAim && !fails) return []
      const one = caseOf(vehicle, path, now)
      const { rollOut, heldNow } = one
      const made = (change: Change) => remedyOf(one, change)
      if (rollOut !== undefined && !fails && readsTrue(heldNow.aim)) return made(rollOut)
      const recorded = parts.flatMap((part) => partChanges(path, part)).flatMap(made)
      return [
        ...(rollOut === undefined ? [] : made(rollOut)),
        ...recorded.sort(nearest).sort(rank).slice(0, MAX_RECORDED),
        ...computedChanges(path, heldNow.line).flatMap(made),
      ]
    })
    .sort(rank)
}
