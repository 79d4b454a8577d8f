import type { Shared } from '../db/store.js'
import type { FitReport } from '../domain/fits/support.js'
import type { FitShape } from '../schemas/fits.js'

/** A report as it is kept: with its author and date. */
export type KeptFit = FitShape & { author: string; date: string }

export const keptOf = ({ content }: Shared): KeptFit => JSON.parse(content)

/** A report as the score takes it. */
export const reportOf = (fit: Shared): FitReport => {
  const { result, evidence, author } = keptOf(fit)
  return { result, evidence, author }
}
