import { cautionNote, type Note } from '../measure/notes.js'
import type { Traced } from '../measure/provenance.js'
import type { Mutable } from '../mutable.js'
import { type PartSummary, summaryOf } from '../parts/part.js'
import type { RecordedReport } from './report.js'
import { type Support, supportOf } from './support.js'

/** Reports about one part and one other thing, oldest first; at least one. */
export interface ReportGroup {
  /** The other part, where the reports are not about vehicles. */
  readonly otherPart?: PartSummary
  readonly reports: readonly RecordedReport[]
}

/** Reports about one part, by what else they are about; at least one group. */
export interface ReportsOfPart {
  readonly part: PartSummary
  readonly groups: readonly ReportGroup[]
}

/** How well a group of reports supports a fit. */
export interface SupportedFit extends Support {
  readonly vehicle?: { readonly make: string; readonly model: string }
  readonly otherPart?: PartSummary
  /** The first of the reports. */
  readonly reports: readonly RecordedReport[]
  readonly reportCount: number
}

export interface FitSearch extends Traced {
  readonly parts: ReadonlyArray<{ readonly part: PartSummary; readonly fits: readonly SupportedFit[] }>
}

/** Maximum number of reports shown of a group, and of groups shown of a part. */
const MAX_REPORTS = 200
const MAX_GROUPS = 200

const CONTRADICTED: Note = cautionNote(
  'reports-contradict',
  'Some fit reports contradict each other: read what each says about variant, years and work before you buy or fit the part.',
)

function supportedFit({ otherPart, reports }: ReportGroup): SupportedFit {
  const fit: Mutable<SupportedFit> = {
    ...supportOf(reports),
    reports: reports.slice(0, MAX_REPORTS),
    reportCount: reports.length,
  }
  if (otherPart !== undefined) fit.otherPart = summaryOf(otherPart)
  const { vehicle } = reports[0]!
  if (vehicle !== undefined) fit.vehicle = { make: vehicle.make, model: vehicle.model }
  return fit
}

/**
 * Parts with how well the reports about each support its fits, best supported first.
 *
 *     order: by support of the best supported fit, then as found;  support: `supportOf` all reports of the group
 *
 * @param found - The reports that were found, by part and by what else they are about
 * @returns At most 200 fits of each part with at most 200 reports each; a note where reports contradict each other
 * @see Rule of succession, as in `supportOf`
 * @example supportedFits([]).parts // []
 */
export function supportedFits(found: readonly ReportsOfPart[]): FitSearch {
  const parts = found.map(({ part, groups }) => ({
    part: summaryOf(part),
    fits: groups
      .map(supportedFit)
      .sort((a, b) => b.support - a.support)
      .slice(0, MAX_GROUPS),
  }))
  const best = ({ fits }: { fits: readonly SupportedFit[] }) => fits[0]!.support
  const contradicted = parts.some(({ fits }) => fits.some(({ agreement }) => agreement === 'contradict'))
  return {
    parts: parts.sort((a, b) => best(b) - best(a)),
    sources: ['stored-fit', 'rule-of-succession', 'evidence-weights'],
    notes: contradicted ? [CONTRADICTED] : [],
  }
}
