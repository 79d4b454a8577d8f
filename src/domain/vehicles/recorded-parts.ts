import { type FitReport, supportOf } from '../fits/support.js'
import type { RecordedPart } from './vehicle.js'

/** Kinds of parts that may be in a path, and so correct a reading. */
export const REMEDY_KINDS: readonly RecordedPart['kind'][] = [
  'driven-gear',
  'driving-gear',
  'adapter',
  'angle-drive',
  'pulse-ring',
  'pulse-scaler',
  'head',
]

/** Maximum number of fit reports shown with a remedy. */
const MAX_REPORTS = 20

/**
 * A recorded part with what the fit reports about it and the vehicle say.
 *
 * @param part - A part that may go into a path
 * @param reports - All fit reports about it and this make and model, oldest first
 * @returns The part with their support and the first 20 of them; without reports the part as it is
 * @see Rule of succession, as in `supportOf`
 * @example withReports({ id: 'a', kind: 'head', name: 'Head' }, [{ result: 'fits', evidence: 'road-tested', author: 'A' }]).support // 0.6666666667 ± 1e-9
 */
export function withReports(part: RecordedPart, reports: readonly FitReport[]): RecordedPart {
  if (reports.length === 0) return part
  return { ...part, support: supportOf(reports).support, reports: reports.slice(0, MAX_REPORTS) }
}
