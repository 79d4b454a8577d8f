import { constantUnitsOf } from '../border/vehicles.js'
import { benchTable } from '../domain/cables/bench-table.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import type { RecordedPart } from '../domain/vehicles/vehicle.js'
import { type WorksheetIssue, worksheet } from '../domain/vehicles/worksheet.js'
import { BenchTableAnswer, BenchTableRequest } from '../schemas/cable-bench.js'
import { VehicleProfile, type VehicleProfileShape } from '../schemas/vehicles.js'
import { ComputedWorksheet, type WorksheetContent } from '../schemas/worksheets.js'
import { answering } from './calculation.js'

const benchTableOf = answering({ body: BenchTableRequest, answer: BenchTableAnswer, compute: benchTable })
const computed = answering({ body: VehicleProfile, answer: ComputedWorksheet, compute: worksheet })

/** The content of a worksheet; the plots are drawn from it. */
export function worksheetContent(
  profile: VehicleProfileShape,
  table: SizeTable,
  parts: readonly RecordedPart[],
  issue: WorksheetIssue,
): WorksheetContent {
  const benches = profile.paths.map(({ head }) => benchTableOf({ head }))
  const context = { parts, constantUnits: constantUnitsOf(profile), issue, benches }
  const { paths, ...content } = computed(profile, table, context)
  return {
    ...content,
    paths: paths.map((path, index) => Object.assign(path, { bench: benches[index]!.rows })),
  }
}
