// Runs in a thread of its own, beside the event loop that it watches: nothing of it may need that loop. Logs straight to the file, too.
import { writeSync } from 'node:fs'
import { constants } from 'node:os'
import { workerData } from 'node:worker_threads'
import { BEAT, type Guarded, NOTICED } from './watchdog.js'

const LOOK_MS = 250

/** How long the event loop may take to notice a signal to stop. What it does after that takes as long as it takes. */
const NOTICE_MS = 5000

const FATAL = 60
const STDOUT = 1

/** A handle of a signal, of this thread's own loop. */
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
    const { pid } = process
    const line = {
      level: FATAL,
      time: Date.now(),
      pid,
      hostname: guarded.hostname,
      openRequests: openRequests(guarded),
      msg,
    }
    try {
      writeSync(STDOUT, `${JSON.stringify(line)}\n`)
    } catch {
      // Whoever should read the log does not; the process is to end all the same.
    }
  }
  // process.exit() would end this thread alone.
  process.kill(process.pid, 'SIGKILL')
}

/** Ends the process when the event loop has been silent for too long. */
function watch(guarded: Guarded): void {
  const { signs, silentS } = guarded
  let last = -1
  // Not by the clock: a process that was stopped as a whole, or a machine that slept, has not been silent.
  let silentMs = 0
  setInterval(() => {
    const beat = Atomics.load(signs, BEAT)
    silentMs = beat === last ? silentMs + LOOK_MS : 0
    last = beat
    if (silentMs >= silentS * 1000)
      end(guarded, `the event loop did not turn for ${silentS} s: ending the process`)
  }, LOOK_MS)
}

/** Ends the process when the event loop does not notice a signal to stop, or a second one comes before it has. */
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
  // Signals in a thread are not in the interface of Node: what process.on() is made of is, though deprecated. Without it a service that
  // hangs is ended by its silence alone.
  try {
    process.noDeprecation = true
    const { Signal } = (
      process as unknown as { binding(name: 'signal_wrap'): { Signal: new () => SignalHandle } }
    ).binding('signal_wrap')
    for (const signal of [constants.signals.SIGTERM, constants.signals.SIGINT]) {
      const handle = new Signal()
      handle.onsignal = heed
      handle.start(signal)
    }
  } catch {
    // As said above.
  }
}

watch(workerData)
heedSignals(workerData)
