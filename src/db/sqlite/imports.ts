import type { ImportItem, ImportOptions, ImportOutcome } from '../store/shared.js'
import type { Session } from './session.js'

/** Thrown inside a unit of work to roll it back, and caught outside: carries the outcomes. */
class Undone extends Error {
  readonly outcomes: readonly ImportOutcome[]

  constructor(outcomes: readonly ImportOutcome[]) {
    super('undone')
    this.outcomes = outcomes
  }
}

const STORED: ReadonlySet<string> = new Set(['created', 'replaced', 'unchanged'])

/** Stores rows one by one in one unit of work; rolls it back for a dry run, and if a row fails unless `partial` is set. */
export async function importRows<Input>(
  session: Session,
  items: readonly ImportItem<Input>[],
  { dryRun, partial }: ImportOptions,
  store: (item: ImportItem<Input>) => ImportOutcome,
  saveResponse: (outcomes: readonly ImportOutcome[]) => void,
): Promise<readonly ImportOutcome[]> {
  try {
    return await session.write(() => {
      const outcomes = items.map(store)
      const failed = outcomes.some(({ outcome }) => !STORED.has(outcome))
      if (dryRun || (failed && !partial)) throw new Undone(outcomes)
      saveResponse(outcomes)
      return outcomes
    })
  } catch (error) {
    if (error instanceof Undone) return error.outcomes
    throw error
  }
}
