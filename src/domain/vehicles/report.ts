import { type Head, odometerErrorPercent, type Stage } from '../drive-paths/path.js'
import type { ChosenStage } from '../drive-paths/solution.js'
import { RULES_CAUTION } from '../gauges/rule-notes.js'
import type { RuleVerdict } from '../gauges/rule-verdicts.js'
import { ruleSources } from '../gauges/verdicts.js'
import { correlation } from '../measure/correlation.js'
import type { Figure } from '../measure/figure.js'
import { cautionNote, type Note } from '../measure/notes.js'
import type { Traced } from '../measure/provenance.js'
import { lowestTerms } from '../measure/ratio.js'
import type { SourceId } from '../measure/sources.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import type { SizeTable } from '../tires/size-table.js'
import type { RemedyAction } from './changes.js'
import { checkVehicle, type VehicleCheck } from './check.js'
import { type CheckedPath, checkedPath } from './checked-path.js'
import { type ConstantUnits, type GivenMeasured, type GivenVehicle, vehicleOf } from './given-vehicle.js'
import type { Remedy } from './remedies.js'
import type { Finding, MeasuredPath, RecordedPart, Vehicle } from './vehicle.js'

/** The head as the profile is to state it after a remedy. */
export interface HeadAfter {
  readonly constantPerM: Figure
  readonly scalePercent: number
  /** 95 % [percentage points]. */
  readonly scalePercentPlusMinus: number
  readonly offsetMPerS: Figure
  readonly correlation: number
}

/** The recorded part that a remedy takes, and what speaks for it. */
type RemedyPart = Pick<RecordedPart, 'id' | 'name' | 'support' | 'reports'>

/** A remedy, and what the profile is to state after it. */
export interface ReportedRemedy {
  /** Name of the path. */
  readonly path: string
  readonly action: RemedyAction
  /** Place in the profile. */
  readonly pointer: string
  readonly text: string
  readonly errorPercent: number
  readonly indicatedPerTrue: Figure
  readonly withinAim: boolean
  readonly verdicts: readonly RuleVerdict[]
  readonly odometerErrorPercent: number
  readonly remains: readonly string[]
  readonly cautions?: readonly string[]
  readonly stage?: ChosenStage
  readonly constantPerM?: Figure
  readonly head?: HeadAfter
  readonly measured?: GivenMeasured
  readonly part?: RemedyPart
  readonly cost?: NonNullable<Remedy['cost']>
}

/** A vehicle, checked from wheel to dial. */
export interface VehicleReport extends Traced {
  readonly paths: readonly CheckedPath[]
  /** Most severe first. */
  readonly findings: readonly Finding[]
  /** Best first. */
  readonly remedies: readonly ReportedRemedy[]
}

/** Maximum whole number of a scaler in a profile. */
const MAX_SCALER_TERM = 1e9

/** A stage in the form that the profile takes for its kind: by teeth, by whole numbers or by its ratio. */
function stageAfter(pointer: string, { kind, ratio, exactRatio, teeth }: Stage): ChosenStage {
  if (teeth !== undefined) return { pointer, ratio: ratio.value, teeth }
  const chosen = { pointer, ratio: ratio.value }
  if (kind !== 'pulse-scaler' || exactRatio === undefined) return chosen
  const { n, d } = lowestTerms(exactRatio)
  const [multiply, divide] = [Number(n), Number(d)]
  return Math.max(multiply, divide) <= MAX_SCALER_TERM ? Object.assign(chosen, { multiply, divide }) : chosen
}

const headAfter = ({ constantPerM, scale, offsetMPerS }: Head): HeadAfter => ({
  constantPerM,
  scalePercent: (scale.value - 1) * 100,
  scalePercentPlusMinus: plusMinus(scale) * 100,
  offsetMPerS,
  correlation: correlation(scale, offsetMPerS),
})

function measuredAfter(measured: MeasuredPath): GivenMeasured {
  const { indicatedPerTrue, offsetMPerS } = measured
  return indicatedPerTrue === undefined || offsetMPerS === undefined
    ? measured
    : { ...measured, correlation: correlation(indicatedPerTrue, offsetMPerS) }
}

function partOf({ id, name, support, reports }: RecordedPart): RemedyPart {
  const part: Mutable<RemedyPart> = { id, name }
  if (support !== undefined) part.support = support
  if (reports !== undefined) part.reports = reports
  return part
}

function reportedFinding({ code, level, text, pointer, remedy }: Finding): Finding {
  const reported: Mutable<Finding> = { code, level, pointer: `#${pointer}`, text }
  if (remedy !== undefined) reported.remedy = remedy
  return reported
}

function reportedRemedy(remedy: Remedy): ReportedRemedy {
  const { action, text, withinAim, remains, cautions, stage, constantPerM, line, verdict, part, cost } =
    remedy
  const { name, head, measured } = remedy.path
  const pointer = `#${remedy.pointer}`
  const reported: Mutable<ReportedRemedy> = {
    path: name,
    action,
    pointer,
    text,
    errorPercent: remedy.errorFraction * 100,
    indicatedPerTrue: line.indicatedPerTrue,
    withinAim,
    verdicts: verdict === undefined ? [] : [verdict],
    odometerErrorPercent: odometerErrorPercent(line.odometerPerTrue).value,
    remains,
  }
  if (cautions !== undefined) reported.cautions = cautions
  if (stage !== undefined) reported.stage = stageAfter(pointer, stage)
  if (constantPerM !== undefined) reported.constantPerM = constantPerM
  if (stage === undefined && remedy.tire === undefined) reported.head = headAfter(head)
  if (measured !== undefined) reported.measured = measuredAfter(measured)
  if (part !== undefined) reported.part = partOf(part)
  if (cost !== undefined) reported.cost = cost
  return reported
}

const CAUTIONS: readonly Note[] = [
  RULES_CAUTION,
  cautionNote(
    'work-safely',
    'Work under a raised car only when it is on stands. Tighten suspension, hub and differential fasteners to the torque specified by the manufacturer. A speedometer is safety equipment: check any change on the road against another speed reference (GPS or a timed distance).',
  ),
]

function sourcesOf({ tires, rule }: Vehicle, { remedies }: VehicleCheck): SourceId[] {
  return [
    ...tires.front.sources,
    ...tires.rear.sources,
    'eu-165-2014',
    'tm-9-1829a',
    'tm-5-3820-256-24-4',
    'continued-fractions',
    ...ruleSources([rule]),
    ...remedies.flatMap(({ part }): SourceId[] => {
      if (part === undefined) return []
      return part.support === undefined
        ? ['stored-part']
        : ['stored-part', 'stored-fit', 'rule-of-succession', 'evidence-weights']
    }),
  ]
}

/**
 * What a check says of a vehicle: each path, the findings, and what the profile is to state after each remedy.
 *
 *     scale percent = 100·(scale − 1)      error percent = 100·(largest error over the judged speeds)
 *
 * @param vehicle - The vehicle
 * @param check - Its check
 * @returns Paths in the order of the profile, findings by severity, remedies best first; sources and cautions
 * @throws {DomainError} `rule-needs-dial-max`
 * @see JCGM 106:2012, 7.4; JCGM 100:2008, 7.1.4 (a result is reported with all that it is based on)
 * @example checkReport(EXAMPLE_VEHICLE, checkVehicle(EXAMPLE_VEHICLE)).paths[0].name // "speedometer"
 */
export function checkReport(vehicle: Vehicle, check: VehicleCheck): VehicleReport {
  return {
    paths: check.paths.map((path) => checkedPath(vehicle, path)),
    findings: check.findings.map(reportedFinding),
    remedies: check.remedies.map(reportedRemedy),
    sources: sourcesOf(vehicle, check),
    notes: CAUTIONS,
  }
}

/** What a check takes beside the profile. */
export interface CheckContext {
  /** Recorded parts that may go into the paths. */
  readonly parts: readonly RecordedPart[]
  readonly constantUnits: ConstantUnits
}

/**
 * Checks a vehicle from wheel to dial, from its profile.
 *
 *     profile → vehicle → paths, findings (most severe first), remedies (best first)
 *
 * @param given - The profile
 * @param table - Finds tire sizes that no formula covers
 * @param context - Recorded parts, and the units in which the constants of the heads were given
 * @returns The report of the check
 * @throws {DomainError} those of `vehicleOf`; `path-order`, `head-does-not-fit-path`, `rule-needs-dial-max`, each with its pointer in the profile
 * @see the functions it is made of: `vehicleOf`, `checkVehicle`, `checkReport`
 * @example vehicleReport({ name: 'Quillock', tires: { front: { turnsPerM: exact(0.5) }, rear: { turnsPerM: exact(0.5) } }, paths: [{ name: 'speedometer', axle: 'rear', stages: [], head: { input: 'turns', constantPerM: exact(0.4), unit: 'kmh' } }], rule: 'un-r39' }, builtInSizes, { parts: [], constantUnits: [] }).paths[0].indicatedPerTrue.value // 1.25 ± 1e-12
 */
export function vehicleReport(given: GivenVehicle, table: SizeTable, context: CheckContext): VehicleReport {
  const vehicle = vehicleOf(given, table, context.constantUnits)
  return checkReport(vehicle, checkVehicle(vehicle, context.parts))
}
