import type { ImportItem, ImportOutcome, ImportRows, SharedAuthor } from '../store/shared.js'
import type { Session, Unit } from './session.js'
import { responseSaver } from './stored-responses.js'

/** Thrown inside a unit of work to roll it back, and caught outside: carries the outcomes. */
class Undone extends Error {
  readonly outcomes: readonly ImportOutcome[]

  constructor(outcomes: readonly ImportOutcome[]) {
    super('undone')
    this.outcomes = outcomes
  }
}

const STORED: ReadonlySet<string> = new Set(['created', 'replaced', 'unchanged'])

/**
 * Makes the import of a table: stores its rows one by one in one unit of work; rolls it back for a dry run, and if a row fails unless
 * `partial` is set.
 */
export function rowImport<Input>(
  session: Session,
  store: (author: SharedAuthor, item: ImportItem<Input>) => Unit<ImportOutcome>,
): ImportRows<Input> {
  const saveResponse = responseSaver(session)
  const storeAll = session.write(function* (
    ...[author, items, { dryRun, partial }, save]: Parameters<ImportRows<Input>>
  ): Unit<readonly ImportOutcome[]> {
    const outcomes: ImportOutcome[] = []
    for (const item of items) outcomes.push(yield* store(author, item))
    const failed = outcomes.some(({ outcome }) => !STORED.has(outcome))
    if (dryRun || (failed && !partial)) throw new Undone(outcomes)
    yield* saveResponse(author.accountId, save, outcomes)
    return outcomes
  })
  return async (...given) => {
    try {
      return await storeAll(...given)
    } catch (error) {
      if (error instanceof Undone) return error.outcomes
      throw error
    }
  }
}
