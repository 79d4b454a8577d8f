import { availableParallelism } from 'node:os'

const MAX_PROCESSES = 256

/** Allowed values of PROCESSES, in words. */
export const EXPECTED_PROCESSES = `auto or a whole number from 1 to ${MAX_PROCESSES}`

/**
 * Number of processes that the settings ask for: all cores by default, and one for a database in memory, which processes cannot share.
 *
 * @returns Undefined if PROCESSES is not valid
 */
export function processCount({
  PROCESSES,
  DATABASE_FILE,
  DATABASE_URL,
}: NodeJS.ProcessEnv): number | undefined {
  const text = PROCESSES || 'auto'
  const count = text === 'auto' ? Math.min(availableParallelism(), MAX_PROCESSES) : Number(text)
  if (!/^(?:auto|\d{1,3})$/.test(text) || count < 1 || count > MAX_PROCESSES) return undefined
  return DATABASE_FILE === ':memory:' && !DATABASE_URL ? 1 : count
}
