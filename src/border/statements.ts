import type { Shared } from '../db/store.js'
import type { Statement } from '../domain/fits/support.js'
import type { FitShape } from '../schemas/fits.js'

/** A statement as it is kept: with its author and date. */
export type KeptFit = FitShape & { author: string; date: string }

export const keptOf = ({ content }: Shared): KeptFit => JSON.parse(content)

/** A statement as the score takes it. */
export const statementOf = (fit: Shared): Statement => {
  const { result, evidence, author } = keptOf(fit)
  return { result, evidence, author }
}
