import { isDeepStrictEqual } from 'node:util'
import type { Versions } from '../store/common.js'
import type { NotChanged, Shared, SharedAuthor } from '../store/shared.js'
import type { Prepared, Session } from './session.js'
import { admits } from './vehicles.js'

/** A row of something shared, joined with the name of its account. */
export interface SharedRow {
  readonly number: number
  readonly id: string
  readonly account_id: string
  readonly recorded_by: string
  readonly version: number
  readonly created_at_ms: number
  readonly changed_at_ms: number
  readonly content: string
}

export const sharedOf = (row: SharedRow): Shared => ({
  id: row.id,
  version: row.version,
  recordedBy: row.recorded_by,
  createdAtMs: row.created_at_ms,
  changedAtMs: row.changed_at_ms,
  content: row.content,
})

/** Makes the reading of one record by its id. */
export const sharedReader = (session: Session, live: Prepared<SharedRow>) =>
  session.read(function* (id: string) {
    const row = yield* live.get(id)
    return row === undefined ? undefined : sharedOf(row)
  })

/** Why a shared thing may not be changed; undefined when it may. */
export function refusal(
  row: SharedRow | undefined,
  { accountId, changesOthers }: SharedAuthor,
  versions: Versions,
): NotChanged | undefined {
  if (row === undefined) return { outcome: 'absent' }
  if (row.account_id !== accountId && !changesOthers) return { outcome: 'not-owner' }
  if (!admits(versions, row.version)) return { outcome: 'stale', version: row.version }
  return undefined
}

/** Whether two JSON texts say the same, whatever the order of their members. */
export const sameContent = (a: string, b: string) =>
  a === b || isDeepStrictEqual(JSON.parse(a), JSON.parse(b))
