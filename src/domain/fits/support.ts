export type FitResult = 'fits' | 'fits-with-work' | 'does-not-fit'

/**
 * What a report weighs, in trials: one part driven on the road is one whole trial.
 *
 * | evidence | weight | source |
 * |---|---|---|
 * | road-tested | 1 | definition of the unit |
 * | trial-fitted | 0.75 | common practice, no source: it goes on, but was not driven |
 * | measured | 0.5 | the same: dimensions agree |
 * | literature | 0.5 | the same: printed, about parts as made |
 * | hearsay | 0.1 | the same |
 */
export const EVIDENCE_WEIGHT = {
  'road-tested': 1,
  'trial-fitted': 0.75,
  measured: 0.5,
  literature: 0.5,
  hearsay: 0.1,
} as const

/** How a report came about. */
export type Evidence = keyof typeof EVIDENCE_WEIGHT

/** What the score needs of a report. */
export interface FitReport {
  readonly result: FitResult
  readonly evidence: Evidence
  readonly author: string
}

export interface Support {
  /** How far the reports support that the part goes on, with work or without: 0 to 1, 0.5 when nothing is known. */
  readonly support: number
  /** The same for going on as it is; reports of fits-with-work speak against it. */
  readonly supportAsIs: number
  /** `contradict`: some say it fits and some that it does not. `differ-on-work`: all say it fits, not all without work. */
  readonly agreement: 'agree' | 'differ-on-work' | 'contradict'
}

/** One author, in any case, counts once a side, with the best evidence given: saying it again proves nothing more. */
function weight(reports: readonly FitReport[], results: readonly FitResult[]): number {
  const best = new Map<string, number>()
  for (const { result, evidence, author } of reports) {
    if (!results.includes(result)) continue
    const name = author.normalize('NFKC').toLowerCase().trim()
    best.set(name, Math.max(best.get(name) ?? 0, EVIDENCE_WEIGHT[evidence]))
  }
  // Summed in the order of size, so that the order of the reports does not show in the last digit.
  return [...best.values()].sort((a, b) => a - b).reduce((total, one) => total + one, 0)
}

const succession = (agreeing: number, against: number) => (agreeing + 1) / (agreeing + against + 2)

/**
 * How well fit reports support a fit.
 *
 *     support = (1 + F) / (2 + F + A)
 *     F, A: sum over the authors of the weight of their best evidence for and against
 *     weights: road-tested 1, trial-fitted 0.75, measured 0.5, literature 0.5, hearsay 0.1
 *
 * Laplace's rule of succession on weighted trials: 0.5 with no report, toward 1 as independent people agree. One more
 * report that it fits never lowers the score, one more against never raises it, and the order does not matter.
 *
 * @param reports - Every report about one part and one vehicle or other part
 * @returns The scores, and whether the reports agree
 * @see Rule of succession (Laplace, Essai philosophique sur les probabilités, 1814); weights: common practice, no source
 * @example supportOf([]).support // 0.5 ± 0
 * @example supportOf([{ result: 'fits', evidence: 'road-tested', author: 'A' }]).support // 0.6666666667 ± 1e-9
 * @example supportOf([{ result: 'fits', evidence: 'road-tested', author: 'A' }, { result: 'does-not-fit', evidence: 'hearsay', author: 'B' }]).agreement // "contradict"
 */
export function supportOf(reports: readonly FitReport[]): Support {
  const as = weight(reports, ['fits'])
  const withWork = weight(reports, ['fits-with-work'])
  const either = weight(reports, ['fits', 'fits-with-work'])
  const against = weight(reports, ['does-not-fit'])
  const againstAsIs = weight(reports, ['fits-with-work', 'does-not-fit'])
  let agreement: Support['agreement'] = 'agree'
  if (either > 0 && against > 0) agreement = 'contradict'
  else if (as > 0 && withWork > 0) agreement = 'differ-on-work'
  return { support: succession(either, against), supportAsIs: succession(as, againstAsIs), agreement }
}
