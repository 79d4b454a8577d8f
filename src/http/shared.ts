import type { ImportOutcome, NotChanged, Shared } from '../db/store.js'
import { type ConditionalHeaders, staleVersion } from './etags.js'
import { RequestProblem } from './request-problem.js'

const instant = (ms: number) => new Date(ms).toISOString()

/** JSON text of a shared record: its stored content is sent as it is, without parsing. */
export function sharedText({ id, version, recordedBy, createdAtMs, changedAtMs, content }: Shared): string {
  return `{"id":"${id}","version":${version},"createdAt":"${instant(createdAtMs)}","changedAt":"${instant(changedAtMs)}","recordedBy":${JSON.stringify(recordedBy)},${content.slice(1)}`
}

/** The problem for a shared record that is not there. */
export const noSuch = (what: string) => new RequestProblem('not-found', `There is no such ${what}.`)

/** The problem for a shared record that was not changed. */
export function notChanged(refused: NotChanged, what: string, headers: ConditionalHeaders): RequestProblem {
  switch (refused.outcome) {
    case 'absent':
      return noSuch(what)
    case 'not-owner':
      return new RequestProblem(
        'not-owner',
        `Another account recorded this ${what}: that account or an admin may change it.`,
      )
    case 'stale':
      return staleVersion(refused.version, headers)
  }
}

/** Error of a row that the store rejected: the column, and what to do; undefined if it was accepted. */
export function rowRefusal(
  refused: ImportOutcome,
): { column: string; code: string; detail: string } | undefined {
  switch (refused.outcome) {
    case 'created':
    case 'replaced':
    case 'unchanged':
      return undefined
    case 'exists':
      return {
        column: 'id',
        code: 'exists',
        detail:
          'a different one with this id exists; to change it, give the version that was exported (a fit report cannot be changed: leave the id out to record another)',
      }
    case 'stale':
      return {
        column: 'version',
        code: 'stale-version',
        detail: `it has been changed since: the current version is ${refused.version}; export it again`,
      }
    case 'not-owner':
      return {
        column: 'id',
        code: 'not-owner',
        detail: 'another account recorded it; leave the id out to record your own',
      }
    case 'deleted':
      return { column: 'id', code: 'deleted', detail: 'it was deleted; leave the id out to record it again' }
    case 'part-absent':
      return { column: 'part', code: 'recorded-part-unknown', detail: 'there is no part with this id' }
    case 'other-part-absent':
      return { column: 'otherPart', code: 'recorded-part-unknown', detail: 'there is no part with this id' }
    case 'taken':
      return { column: 'size', code: 'taken', detail: `row ${refused.id} already has this size` }
  }
}
