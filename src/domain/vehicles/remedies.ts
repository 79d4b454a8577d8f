import { type AimJudgment, ROUNDING } from '../drive-paths/judgment.js'
import { type Response, readingOf } from '../drive-paths/path.js'
import type { RuleVerdict } from '../gauges/verdicts.js'
import type { Mutable } from '../mutable.js'
import { judgeReading, MAX_OVER_FRACTION } from './aim.js'
import { type Change, computedChanges, partChanges, type RemedyAction } from './changes.js'
import { evaluateVehiclePath } from './evaluate.js'
import { ROLL_OUT_PLUS_MINUS, rollOutFirst, withTireHeld } from './roll-out.js'
import { isSlipLikely } from './slips.js'
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
  /** What to look at before it is done. */
  readonly cautions?: readonly string[]
  /** What it is ranked by, with what is unknown of the tires held where that would decide. */
  readonly merit: {
    readonly withinAim: boolean
    /** 0: no. */
    readonly breaksRule: number
    readonly leavesCount: number
  }
  readonly cost?: RemedyCost & { readonly total?: number }
}

/** What else may have to change with the teeth of a gear; common practice, no source. */
const GEAR_CAUTIONS = [
  'A gear with another number of teeth has another outside diameter: compare it with the old one before it is bought.',
  'The hand and the angle of its helix have to suit the gear it meshes with.',
]
const CAUTIONS: Readonly<Partial<Record<RemedyAction, readonly string[]>>> = {
  'change-driven-gear': [
    ...GEAR_CAUTIONS,
    'The housing or sleeve that carries it may have to change with it, or be set anew, for the teeth to mesh at the right depth.',
  ],
  'change-driving-gear': [
    ...GEAR_CAUTIONS,
    'It sits on a shaft of the gearbox: bore and width have to suit, and the driven gear or its housing may have to change with it.',
  ],
}

/** Said before a remedy of a path whose reading a slip in the profile would explain. */
const LOOKED_THROUGH = 'Once the profile was looked through and no slip found: '

/** Most recorded parts that are offered for one path. */
const MAX_RECORDED = 8

/** A change that leaves the slope farther from true than this puts nothing right; common practice, no source. */
const MAX_LEFT_FRACTION = 0.1

/** A change that brings the reading nearer to the aim by less than this is not worth making. */
const MIN_GAIN_FRACTION = 0.001

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

/** What a path does, and how its reading lies to the aim. */
interface Stand {
  readonly evaluated: EvaluatedPath
  readonly aim: AimJudgment
}

const stand = (evaluated: EvaluatedPath): Stand => ({
  evaluated,
  aim: judgeReading(evaluated.line, evaluated.speedsMPerS),
})

/** A path to be put right: as it is, and with its tires held at their estimate where what is unknown of them would decide. */
interface Case {
  readonly vehicle: Vehicle
  readonly now: Stand
  /** The tires are to be measured first. */
  readonly rollOut: Change | undefined
  readonly heldVehicle: Vehicle
  readonly heldNow: Stand
  readonly isSlipLikely: boolean
}

function caseOf(vehicle: Vehicle, now: Stand): Case {
  const { evaluated } = now
  const rollOut = rollOutFirst(vehicle, evaluated)
  const heldVehicle = rollOut === undefined ? vehicle : withTireHeld(vehicle, evaluated.path.axle)
  return {
    vehicle,
    now,
    rollOut,
    heldVehicle,
    heldNow: rollOut === undefined ? now : stand(evaluateVehiclePath(heldVehicle, evaluated.index)),
    isSlipLikely: isSlipLikely(evaluated),
  }
}

/** Whether an estimate lies in the aim, or no farther below it than a roll-out can tell: what is then wrong is not known, and no part mends it. */
const readsTrue = ({ lowestFraction, overFraction }: AimJudgment) =>
  lowestFraction >= -ROLL_OUT_PLUS_MINUS && overFraction === 0

const breaks = ({ evaluated: before }: Stand, { evaluated: after }: Stand) =>
  after.verdict?.result === 'does-not-conform' && rankOf(after.verdict) > rankOf(before.verdict)

/** Whether a dial is put right, or nearer to it: its largest error smaller, and it neither under-reads more than before nor breaks its rule where it did not. */
function isBetter(before: Stand, after: Stand): boolean {
  const { aim: now } = before
  const { aim: then } = after
  if (breaks(before, after)) return false
  if (then.withinAim)
    return !now.withinAim || rankOf(before.evaluated.verdict) > rankOf(after.evaluated.verdict)
  if (then.lowestFraction < Math.min(0, now.lowestFraction) - ROUNDING) return false
  if (Math.abs(then.errorFraction) >= Math.abs(now.errorFraction)) return false
  return now.shortFraction + now.overFraction - then.shortFraction - then.overFraction > MIN_GAIN_FRACTION
}

/** The vehicle with the change made. */
const changedBy = (vehicle: Vehicle, index: number, { path, tire }: Change): Vehicle =>
  // Not by a spread, which is slow where properties follow it.
  Object.assign({}, vehicle, {
    paths: vehicle.paths.with(index, path),
    tires: tire === undefined ? vehicle.tires : { ...vehicle.tires, [path.axle]: tire },
  })

/** The change made and the vehicle evaluated again: what a remedy promises is what a check of the changed vehicle answers. */
function remedyOf(one: Case, change: Change): Remedy[] {
  const { vehicle, now, heldVehicle, heldNow } = one
  const { index } = now.evaluated
  const standAfter = (car: Vehicle) => stand(evaluateVehiclePath(changedBy(car, index, change), index))
  const isMeasurement = change.tire !== undefined
  const then = standAfter(vehicle)
  const held = heldVehicle === vehicle || isMeasurement ? then : standAfter(heldVehicle)
  if (!isMeasurement) {
    const isLeftFarOff = Math.abs(then.evaluated.line.indicatedPerTrue.value - 1) > MAX_LEFT_FRACTION
    if (isLeftFarOff || breaks(now, then) || !isBetter(heldNow, held)) return []
  }
  const { line, verdict } = then.evaluated
  const leaves = whatStays(vehicle, then)
  const remedy: Mutable<Remedy> = Object.assign({}, change, {
    pathIndex: index,
    line,
    errorFraction: then.aim.errorFraction,
    withinAim: then.aim.withinAim,
    leaves,
    merit: {
      withinAim: held.aim.withinAim,
      // Where the tires decide, "not proven" says nothing of the change.
      breaksRule: heldVehicle === vehicle ? rankOf(verdict) : Number(verdict?.result === 'does-not-conform'),
      leavesCount: held === then ? leaves.length : whatStays(vehicle, held).length,
    },
  })
  if (one.isSlipLikely && !isMeasurement) remedy.text = `${LOOKED_THROUGH}${change.text}`
  const cautions = CAUTIONS[change.action]
  if (cautions !== undefined) remedy.cautions = cautions
  if (verdict !== undefined) remedy.verdict = verdict
  const cost = costOf(vehicle, change.action)
  if (cost !== undefined) remedy.cost = cost
  return [remedy]
}

const percent = (fraction: number) => percentText(Math.abs(fraction))

function whatStays(vehicle: Vehicle, { evaluated: { line, path }, aim: then }: Stand): string[] {
  const stays: string[] = []
  if (then.lowestFraction < -ROUNDING)
    stays.push(`The dial still reads up to ${percent(then.lowestFraction)} low.`)
  else if (then.shortFraction > 0)
    stays.push('The dial may still read low, given the uncertainty of the figures.')
  if (then.overFraction > 0)
    stays.push(`The dial still reads up to ${percentText(then.highestFraction, [MAX_OVER_FRACTION])} high.`)
  const record = line.odometerPerTrue.value - 1
  if (Math.abs(record) > 0.01)
    stays.push(`The odometer runs ${percent(record)} ${record > 0 ? 'fast' : 'slow'}.`)
  const offset = line.offsetMPerS.value
  if (offset !== 0) {
    const shown = speedText(path.unit, Math.abs(offset), [0])
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

/** A recorded part comes before a computed ideal, unless its fit reports speak against it. */
const partRank = ({ part }: Remedy) => (part === undefined ? 1 : (part.support ?? 0.5) < 0.5 ? 2 : 0)

/** Costs are compared only where both are known. */
const costDifference = (a: Remedy, b: Remedy) =>
  a.cost?.total === undefined || b.cost?.total === undefined ? 0 : a.cost.total - b.cost.total

const nearest = (a: Remedy, b: Remedy) => Math.abs(a.errorFraction) - Math.abs(b.errorFraction)

/**
 * Best first: a measurement on which the choice depends; within the aim; least likely to break the rule; a recorded part; least left wrong; cheapest;
 * outside the aim nearest to true. Within it the order stays as it is: the usual work, gears before adapters before a workshop. What is unknown of
 * the tires is the same under every change, so it decides nothing here where they are to be measured first.
 */
function rank(a: Remedy, b: Remedy): number {
  return (
    Number(b.tire !== undefined) - Number(a.tire !== undefined) ||
    Number(b.merit.withinAim) - Number(a.merit.withinAim) ||
    a.merit.breaksRule - b.merit.breaksRule ||
    partRank(a) - partRank(b) ||
    a.merit.leavesCount - b.merit.leavesCount ||
    costDifference(a, b) ||
    (a.merit.withinAim ? 0 : nearest(a, b))
  )
}

/**
 * Ways to put the readings of a vehicle right, best first.
 *
 *     each change made in the path, the path evaluated again, and kept where it brings the dial into the aim or nearer to it
 *
 * Each path that lies outside the aim, or that its rule does not pass, is looked through. The aim is judged at the round speeds of the dial from
 * 20 km/h up: at most 4 % over, and under with a probability of at most 5 %, so a figure uncertain is aimed over by a guard band. What
 * leaves the slope more than 10 % off, makes a dial under-read more than it did, or outside the aim leaves its largest error as large, is no remedy.
 *
 * Where the circumference of the tires is computed and brings most of the uncertainty, their roll-out comes first, the changes are compared with the tires held at
 * their estimate, and there are none where the estimate reads true: within the aim, or at most 0.5 % under.
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
      const now = stand(path)
      const fails = path.verdict?.result === 'does-not-conform'
      if (now.aim.withinAim && !fails) return []
      const one = caseOf(vehicle, now)
      const { rollOut, heldNow } = one
      const made = (change: Change) => remedyOf(one, change)
      if (rollOut !== undefined && !fails && readsTrue(heldNow.aim)) return made(rollOut)
      const recorded = parts.flatMap((part) => partChanges(path, part)).flatMap(made)
      return [
        ...(rollOut === undefined ? [] : made(rollOut)),
        ...recorded.sort(nearest).sort(rank).slice(0, MAX_RECORDED),
        ...computedChanges(path, heldNow.evaluated).flatMap(made),
      ]
    })
    .sort(rank)
}
