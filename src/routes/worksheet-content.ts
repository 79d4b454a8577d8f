import type { SizeTable } from '../domain/tires/size-table.js'
import type { RecordedPart } from '../domain/vehicles/vehicle.js'
import { type WorksheetIssue, worksheet } from '../domain/vehicles/worksheet.js'
import { VehicleProfile, type VehicleProfileShape } from '../schemas/vehicles.js'
import { ComputedWorksheet, type WorksheetContent } from '../schemas/worksheets.js'
import { answering } from './calculation.js'
import { constantUnitsOf } from './given-vehicle.js'

const answer = answering({ body: VehicleProfile, answer: ComputedWorksheet, compute: worksheet })

/** The content of a worksheet; the plots are drawn from it. */
export const worksheetContent = (
  profile: VehicleProfileShape,
  table: SizeTable,
  parts: readonly RecordedPart[],
  issue: WorksheetIssue,
): WorksheetContent => answer(profile, table, { parts, constantUnits: constantUnitsOf(profile), issue })
