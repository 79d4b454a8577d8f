// Behavior under overload: open-loop requests from another process at 1, 2, 5 and 10
// times the capacity that the same process measured first; and at 10 times from callers that obey Retry-After.
import { execFile } from 'node:child_process'
import { join } from 'node:path'
import { promisify } from 'node:util'
import { exampleOf, start } from './support/child.mjs'

const PATH = '/v1/vehicle-checks'
const SECONDS = 5
const REFUSED_WITHIN_MS = 50
/** Largest normal median, as a multiple of the median without overload. */
const NORMAL = 1.5

const run = promisify(execFile)
const driver = join(import.meta.dirname, 'support/overload.mjs')
const percent = (part, whole) => `${Math.round((100 * part) / whole)} %`

export default async () => {
  const service = await start('service.mjs', ':memory:', 'refusing')
  let found
  try {
    const { stdout } = await run(process.execPath, [
      driver,
      service.address,
      PATH,
      exampleOf(PATH),
      String(SECONDS),
    ])
    found = JSON.parse(stdout)
  } finally {
    await service.stop()
  }
  const { before, under, obeying, after } = found
  const goodput = (name, { perSecond, statuses, unsent, broken, unanswered }) => {
    const asked =
      Object.values(statuses).reduce((sum, count) => sum + count, 0) + unsent + broken + unanswered
    return {
      name,
      ratio: perSecond / under[1].perSecond,
      floor: 'goodput at 1 x capacity',
      target: 0.9,
      note: `${percent(statuses[503] ?? 0, asked)} refused, ${percent(unsent, asked)} found no free connection of 1000, ${broken + unanswered} without an answer`,
    }
  }
  const refusedMs = obeying.refusedMs.p99
  const normalMs = before.middleMs.toSorted((a, b) => a - b)[before.middleMs.length >> 1]
  const back = after.middleMs.findIndex((ms) => ms <= NORMAL * normalMs)
  return [
    ...[2, 5, 10].map((times) => goodput(`goodput at ${times} x capacity`, under[times])),
    goodput('the same at 10 x of callers that obey Retry-After', obeying),
    {
      name: `99 % of their refusals within ${REFUSED_WITHIN_MS} ms`,
      ratio: refusedMs === null ? 0 : REFUSED_WITHIN_MS / refusedMs,
      floor: `${REFUSED_WITHIN_MS} ms`,
      target: 1,
      note: `delay of the measuring process itself, 99 %: ${obeying.ownDelayMs.toFixed(0)} ms; of callers that ask again at once 99 % within ${under[10].refusedMs.p99?.toFixed(0)} ms`,
    },
    {
      name: 'latency within 5 s after 10 x capacity',
      ratio: normalMs / Math.min(...after.middleMs.filter(Number.isFinite)),
      floor: 'median before, at 0.4 of the capacity',
      target: Number((1 / NORMAL).toFixed(2)),
      note:
        back < 0 ? 'not normal within 5 s' : `normal after ${((back + 1) / 2).toFixed(1)} s at the latest`,
    },
  ]
}
