// Runs in a worker thread and monitors the event loop of the main thread, so nothing here may depend on that loop: it logs directly to stdout.
import { createRequire } from 'node:module'
import { constants } from 'node:os'
import { workerData } from 'node:worker_threads'
import { lineOf, unwrittenBytes, writeOut } from './log-buffer.js'
import { BEAT, type Guarded, NOTICED } from './watchdog.js'

const LOOK_MS = 250

/** How long the event loop may take to notice a signal to stop. The stop itself has no limit. */
const NOTICE_MS = 5000

const FATAL = 60

/** Node's internal signal handle, on the event loop of this thread. */
interface SignalHandle {
  onsignal: () => void
  start(signal: number): void
}

function openRequests({ routes, counts }: Guarded): Record<string, number> {
  return Object.fromEntries(
    routes.map((route, place) => [route, counts[place]!] as const).filter(([, count]) => count > 0),
  )
}

function end(guarded: Guarded, msg: string): void {
  if (guarded.logs) {
    const line = lineOf(FATAL, { openRequests: openRequests(guarded) }, msg)
    writeOut(Buffer.concat([unwrittenBytes(guarded.unwritten), line]))
  }
  // process.exit() would end this thread only.
  process.kill(process.pid, 'SIGKILL')
}

/** Ends the process if the event loop is blocked for too long. */
function watch(guarded: Guarded): void {
  const { signs, silentS } = guarded
  let last = -1
  // Counted, not by the clock: a suspended process or machine does not count as blocked.
  let silentMs = 0
  setInterval(() => {
    const beat = Atomics.load(signs, BEAT)
    silentMs = beat === last ? silentMs + LOOK_MS : 0
    last = beat
    if (silentMs >= silentS * 1000)
      end(guarded, `the event loop did not turn for ${silentS} s: ending the process`)
  }, LOOK_MS)
}

/** Ends the process if the event loop does not notice a signal to stop in time, or before a second signal. */
function heedSignals(guarded: Guarded): void {
  const unnoticed = () => Atomics.load(guarded.signs, NOTICED) === 0
  const giveUp = () => {
    if (unnoticed()) end(guarded, 'the event loop did not notice a signal to stop: ending the process')
  }
  let signals = 0
  const heed = () => {
    signals++
    if (signals > 1) giveUp()
    setTimeout(giveUp, NOTICE_MS)
  }
  // Node offers signals on the main thread only; its internal binding also works in a thread that may require internals
  // (`execArgv` in watchdog.ts). If it is missing, only the check of the event loop ends a service that hangs.
  try {
    const { internalBinding } = createRequire(import.meta.url)('internal/test/binding')
    const { Signal } = internalBinding('signal_wrap') as { Signal: new () => SignalHandle }
    for (const signal of [constants.signals.SIGTERM, constants.signals.SIGINT, constants.signals.SIGHUP]) {
      const handle = new Signal()
      handle.onsignal = heed
      handle.start(signal)
    }
  } catch {
    // No binding in this version of Node: see above.
  }
}

watch(workerData)
heedSignals(workerData)
