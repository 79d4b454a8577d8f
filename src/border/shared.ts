import type { ImportOutcome, NotChanged, Shared } from '../db/store.js'
import { type ConditionalHeaders, staleVersion } from './conditions.js'
import { RequestProblem } from './request-problem.js'

const instant = (ms: number) => new Date(ms).toISOString()

/** JSON text of a shared thing: its content's text goes out as it is kept, unread. */
export function sharedText({ id, version, recordedBy, createdAtMs, changedAtMs, content }: Shared): string {
  return `{"id":"${id}","version":${version},"createdAt":"${instant(createdAtMs)}","changedAt":"${instant(changedAtMs)}","recordedBy":${JSON.stringify(recordedBy)},${content.slice(1)}`
}

/** Why a shared thing was not changed, as a problem. */
export function notChanged(refused: NotChanged, what: string, headers: ConditionalHeaders): RequestProblem {
  switch (refused.outcome) {
    case 'absent':
      return new RequestProblem('not-found', `There is no such ${what}.`)
    case 'not-yours':
      return new RequestProblem(
        'not-yours',
        `Another account recorded this ${what}: that account or an admin may change it.`,
      )
    case 'stale':
      return staleVersion(refused.version, headers)
  }
}

/** What is wrong with a row that the store did not take: in which column, and what to do; undefined when it took it. */
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
          'there is one of this id that says otherwise; to change it, give the version that was exported (a fit report does not change: leave the id out to record another)',
      }
    case 'stale':
      return {
        column: 'version',
        code: 'stale-version',
        detail: `it was changed meanwhile: version ${refused.version} is there now; export it again`,
      }
    case 'not-yours':
      return {
        column: 'id',
        code: 'not-yours',
        detail: 'another account recorded it; leave the id out to record your own',
      }
    case 'deleted':
      return { column: 'id', code: 'deleted', detail: 'it was deleted; leave the id out to record it anew' }
    case 'part-absent':
      return { column: 'part', code: 'recorded-part-unknown', detail: 'there is no part of this id' }
    case 'other-part-absent':
      return { column: 'otherPart', code: 'recorded-part-unknown', detail: 'there is no part of this id' }
    case 'taken':
      return { column: 'size', code: 'taken', detail: `the row ${refused.id} has this size already` }
  }
}
