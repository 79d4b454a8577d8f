import { benchTable } from '../cables/bench-table.js'
import { cautionNote, type Note } from '../measure/notes.js'
import { orderedSources, SOURCES, type SourceId, type Standing } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import type { SizeTable } from '../tires/size-table.js'
import { checkVehicle } from './check.js'
import { type GivenVehicle, vehicleOf } from './given-vehicle.js'
import { type CheckContext, checkReport, type ReportedRemedy } from './report.js'
import type { Finding } from './vehicle.js'
import { type WorksheetInput, worksheetInputs } from './worksheet-inputs.js'
import { type WorksheetPath, worksheetPath } from './worksheet-path.js'

/** The vehicle that a worksheet is about. */
export interface WorksheetVehicle {
  readonly name: string
  readonly make?: string
  readonly model?: string
  readonly year?: number
  readonly reference?: string
  readonly topSpeedMPerS?: number
  readonly notes?: string
}

/** Day and version of the vehicle. */
export interface WorksheetIssue {
  /** RFC 3339, UTC. */
  readonly date: string
  /** Of a stored vehicle. */
  readonly revision?: { readonly id: string; readonly version: number; readonly changedAt: string }
}

/** What a worksheet takes beside the profile. */
export interface WorksheetContext extends CheckContext {
  readonly issue: WorksheetIssue
}

/** All that a worksheet says. */
export interface Worksheet extends WorksheetIssue {
  readonly vehicle: WorksheetVehicle
  readonly rule: { readonly id: string; readonly title: string; readonly applies: string }
  readonly paths: readonly WorksheetPath[]
  readonly findings: readonly Finding[]
  readonly remedies: readonly ReportedRemedy[]
  readonly measured: readonly WorksheetInput[]
  readonly assumed: readonly WorksheetInput[]
  readonly references: ReadonlyArray<{
    readonly id: SourceId
    readonly title: string
    readonly standing: Standing
  }>
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

const ROAD_CAUTION: Note = cautionNote(
  'road-test-safety',
  'On the road one person drives and another reads and writes. Observe the speed limit and the road conditions, on a straight and level road without traffic; leave out marks above the limit there.',
)

function factsOf(given: GivenVehicle): WorksheetVehicle {
  const { name, make, model, year, reference, topSpeedMPerS, notes } = given
  const facts: Mutable<WorksheetVehicle> = { name }
  if (make !== undefined) facts.make = make
  if (model !== undefined) facts.model = model
  if (year !== undefined) facts.year = year
  if (reference !== undefined) facts.reference = reference
  if (topSpeedMPerS !== undefined) facts.topSpeedMPerS = topSpeedMPerS
  if (notes !== undefined) facts.notes = notes
  return facts
}

/** Notes without duplicates from several paths or tires. */
const once = (notes: readonly Note[]) => [...new Map(notes.map((note) => [note.text, note])).values()]

const referenceOf = (id: SourceId) => ({ id, title: SOURCES[id].title, standing: SOURCES[id].standing })

/**
 * The content of a worksheet: the vehicle, its check, the chain and plot of each path, a bench table and a road test, what was measured and what assumed, sources.
 *
 *     profile → vehicle → check → sheet;  notes that several paths or tires give appear once
 *
 * @param given - The profile
 * @param table - Finds tire sizes that no formula covers
 * @param context - Recorded parts, units of the constants, day and version
 * @returns The content
 * @throws {DomainError} those of `vehicleReport`
 * @see the functions it is made of: `vehicleReport`, `benchTable`, `worksheetPath`, `worksheetInputs`
 * @example worksheet({ name: 'Quillock', tires: { front: { turnsPerM: exact(0.5) }, rear: { turnsPerM: exact(0.5) } }, paths: [{ name: 'speedometer', axle: 'rear', stages: [], head: { input: 'turns', constantPerM: exact(0.4), unit: 'kmh' } }], rule: 'un-r39' }, builtInSizes, { parts: [], constantUnits: [], issue: { date: '2026-05-01' } }).paths[0].chain.map(({ kind }) => kind) // ["wheel","head"]
 */
export function worksheet(given: GivenVehicle, table: SizeTable, context: WorksheetContext): Worksheet {
  const { parts, constantUnits, issue } = context
  const vehicle = vehicleOf(given, table, constantUnits)
  const checked = checkVehicle(vehicle, parts)
  const report = checkReport(vehicle, checked)
  const benches = given.paths.map(({ head }) => benchTable({ head }))
  const { id, rule } = vehicle.rule
  const { front, rear } = vehicle.tires
  const sources = orderedSources([...report.sources, ...benches.flatMap((bench) => [...bench.sources])])
  return {
    ...issue,
    vehicle: factsOf(given),
    rule: { id, title: rule.title, applies: rule.applies },
    paths: given.paths.map((path, index) =>
      worksheetPath(path, vehicle, checked.paths[index]!, benches[index]!.rows),
    ),
    findings: report.findings,
    remedies: report.remedies,
    ...worksheetInputs(given, vehicle, checked.paths),
    references: sources.map(referenceOf),
    sources,
    notes: once([
      ...report.notes,
      ROAD_CAUTION,
      ...benches.flatMap((bench) => [...bench.notes]),
      ...front.notes,
      ...rear.notes,
    ]),
  }
}
