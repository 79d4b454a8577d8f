import type { Shared } from '../db/store.js'
import type { FitReport } from '../domain/fits/support.js'
import type { FitShape } from '../schemas/fits.js'

/** A fit report as stored, with its author and date. */
export type StoredFit = FitShape & { author: string; date: string }

export const storedFitOf = ({ content }: Shared): StoredFit => JSON.parse(content)

/** A stored fit report as input of the score. */
export const reportOf = (fit: Shared): FitReport => {
  const { result, evidence, author } = storedFitOf(fit)
  return { result, evidence, author }
}
