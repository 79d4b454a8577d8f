import type { Static } from '@sinclair/typebox'
import { sharedText } from '../border/shared.js'
import type { FitInput, PartFits, Shared } from '../db/store.js'
import { completeReport, type ReportDefaults } from '../domain/fits/report.js'
import type { ReportsOfPart } from '../domain/fits/search.js'
import type { FitReport } from '../domain/fits/support.js'
import type { FitShape, SavedFit } from '../schemas/fits.js'
import { recordedSummary } from './part-records.js'

/**
 * A fit report for the store: its text and its search keys.
 *
 * @throws {DomainError} those of `completeReport`
 */
export function fitInput(given: FitShape, defaults: ReportDefaults): FitInput {
  const report = completeReport(given, defaults)
  const { part } = report
  const content = JSON.stringify(report)
  if ('otherPart' in report) return { part, about: { otherPart: report.otherPart }, content }
  const { variant: _, ...about } = report.vehicle
  return { part, about, content }
}

/** A stored fit report in the form that the score needs. */
export function reportOf({ content }: Shared): FitReport {
  const { result, evidence, author }: FitReport = JSON.parse(content)
  return { result, evidence, author }
}

/** A stored fit report as it is shown. */
const savedFit = (fit: Shared): Static<typeof SavedFit> => JSON.parse(sharedText(fit))

/** What a search of the store found, in its domain form. */
export const foundReports = (found: readonly PartFits[]): ReportsOfPart[] =>
  found.map(({ part, groups }) => ({
    part: recordedSummary(part),
    groups: groups.map(({ otherPart, reports }) => ({
      ...(otherPart === undefined ? {} : { otherPart: recordedSummary(otherPart) }),
      reports: reports.map(savedFit),
    })),
  }))
