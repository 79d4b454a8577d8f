import { DomainError } from '../errors.js'
import type { FitReport } from './support.js'

/** The vehicles that a report is about. */
export interface FitVehicle {
  readonly make: string
  readonly model: string
  /** First and last year of manufacture; absent: open. */
  readonly yearFrom?: number
  readonly yearTo?: number
  readonly variant?: string
}

/** What a report is about, beside its part: vehicles or another part. */
export type FitSubject = { readonly vehicle: FitVehicle } | { readonly otherPart: string }

/** A fit report as a user makes it. */
export type GivenReport = FitSubject & {
  readonly part: string
  readonly author?: string
  /** Day of the finding, YYYY-MM-DD. */
  readonly date?: string
}

/** Author and days of the request that makes a report. */
export interface ReportDefaults {
  readonly author: string
  /** Day of the request, YYYY-MM-DD in UTC. */
  readonly today: string
  /** The day after it: somewhere on Earth it may have begun. */
  readonly tomorrow: string
}

/** A fit report as recorded. */
export interface RecordedReport extends FitReport {
  readonly id: string
  readonly version: number
  readonly createdAt: string
  readonly changedAt: string
  readonly recordedBy: string
  readonly part: string
  readonly vehicle?: FitVehicle
  readonly otherPart?: string
  readonly work?: string
  readonly date: string
}

function checkSubject(report: GivenReport): void {
  if ('otherPart' in report) {
    if (report.otherPart === report.part) {
      throw new DomainError('fit-with-itself', 'otherPart: expected another part than part', {
        pointer: '/otherPart',
      })
    }
    return
  }
  const { yearFrom, yearTo } = report.vehicle
  if (yearFrom !== undefined && yearTo !== undefined && yearFrom > yearTo) {
    throw new DomainError('years-crossed', `yearFrom: expected ${yearTo} or earlier, got ${yearFrom}`, {
      pointer: '/vehicle/yearFrom',
    })
  }
}

/**
 * A fit report with its author and date, refused where it says what cannot be.
 *
 *     date <= the day after today in UTC;  yearFrom <= yearTo;  otherPart is not part
 *
 * @param report - The report as given
 * @param defaults - Author and day of the request
 * @returns The report, by the account and of the day of the request where it names no other
 * @throws {DomainError} `date-in-the-future`, `fit-with-itself`, `years-crossed`
 * @see a choice of this service
 * @example completeReport({ part: 'a', otherPart: 'b' }, { author: 'club', today: '2026-05-17', tomorrow: '2026-05-18' }).date // "2026-05-17"
 * @example completeReport({ part: 'a', otherPart: 'a' }, { author: 'club', today: '2026-05-17', tomorrow: '2026-05-18' }) // throws fit-with-itself
 */
export function completeReport<R extends GivenReport>(
  report: R,
  defaults: ReportDefaults,
): R & { readonly author: string; readonly date: string } {
  const { author, today, tomorrow } = defaults
  const { date = today } = report
  if (date > tomorrow) {
    throw new DomainError('date-in-the-future', `date: expected ${today} or earlier, got ${date}`, {
      pointer: '/date',
    })
  }
  checkSubject(report)
  return { ...report, author: report.author ?? author, date }
}
