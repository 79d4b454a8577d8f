import cluster, { type Worker } from 'node:cluster'
import { lineOf, writeOut } from '../plugins/log-buffer.js'
import { isPeerMessage, type PeerMessage, STOP, STOPPING } from './messages.js'
import { closeUndelivered } from './undelivered.js'

/**
 * Options of Node for each process. Without a smaller limit of the space of new objects, a flood of requests takes twice as much memory:
 * Node 24 lets that space grow to 96 MiB. It costs no measurable processor time.
 */
const MEMORY_OPTIONS = ['--max-semi-space-size=8']

/** A process that ends sooner than this after its start delays its successor. */
const SOON_MS = 10_000
const FIRST_DELAY_MS = 100
const MAX_DELAY_MS = 10_000

/** How long a process may take to notice that it is to stop. The stop itself has no limit. */
const NOTICE_MS = 5000

const ERROR = 50

function sendTo(worker: Worker | undefined, message: PeerMessage | typeof STOP): void {
  // A process that is about to end may have closed its channel; nobody is told then.
  if (worker?.isConnected() === true) worker.process.send(message, undefined, undefined, () => undefined)
}

const workers = () => Object.values(cluster.workers ?? {}).filter((worker) => worker !== undefined)

/** Passes a message between processes on. */
function passOn(from: Worker, message: PeerMessage): void {
  if (message.peer === 'answer') {
    sendTo(cluster.workers?.[message.to], message)
    return
  }
  const others = workers().filter((worker) => worker !== from)
  for (const other of others) sendTo(other, message.peer === 'ask' ? { ...message, from: from.id } : message)
  if (message.peer === 'ask') sendTo(from, { peer: 'asked', id: message.id, count: others.length })
}

/** Keeps a number of processes of the service running until it is stopped. */
class Supervisor {
  private readonly listening = new Set<Worker>()
  private readonly noticed = new Set<Worker>()
  /** The processes that run, with the time of their start. */
  private readonly alive = new Map<Worker, number>()
  private hasListened = false
  private isStopping = false
  private hasFailed = false
  /** Processes in a row that ended soon after their start. */
  private failures = 0

  /** @returns Resolves once the first process listens */
  start(count: number): Promise<void> {
    cluster.setupPrimary({ serialization: 'advanced', execArgv: [...process.execArgv, ...MEMORY_OPTIONS] })
    cluster.on('exit', (worker, code, signal) => this.replace(worker, code, signal))
    cluster.on('message', (worker, message: unknown) => {
      if (message === STOPPING) this.noticed.add(worker)
      else if (isPeerMessage(message)) passOn(worker, message)
    })
    for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) {
      process.on(signal, () => {
        if (this.isStopping) this.endAll()
        else this.stop()
      })
    }
    // From the process that runs this one for npm: its message, or its end.
    process.on('message', (message) => {
      if (message === STOP) this.stop()
    })
    process.on('disconnect', () => this.stop())
    // The first process migrates the file and prints the address and the first key; the start takes no longer for the others.
    this.fork()
    return new Promise((resolve) => {
      cluster.on('listening', (worker) => {
        this.listening.add(worker)
        if (this.hasListened) return
        this.hasListened = true
        for (let n = 1; n < count; n++) this.fork()
        resolve()
      })
    })
  }

  private fork(): void {
    if (this.isStopping) return
    const worker = cluster.fork()
    closeUndelivered(worker)
    this.alive.set(worker, performance.now())
    // The system has no room for another process: there is no exit then. Other errors are of the channel of a process that ends.
    worker.on('error', () => {
      if (worker.process.pid === undefined) this.replace(worker, null, null)
    })
  }

  private replace(worker: Worker, code: number | null, signal: string | null): void {
    const livedMs = performance.now() - this.alive.get(worker)!
    this.alive.delete(worker)
    const served = this.listening.delete(worker)
    if (this.isStopping) {
      if (served && code !== 0) this.hasFailed = true
      this.exitIfAlone()
      return
    }
    // It has printed the reason.
    if (!this.hasListened) process.exit(code ?? 1)
    const { pid } = worker.process
    if (!['fatal', 'silent'].includes(process.env.LOG_LEVEL ?? ''))
      writeOut(
        lineOf(
          ERROR,
          { ended: { pid, code, signal } },
          'a process of the service has ended: starting another',
        ),
      )
    this.failures = livedMs < SOON_MS ? this.failures + 1 : 0
    const delayMs =
      this.failures === 0 ? 0 : Math.min(MAX_DELAY_MS, FIRST_DELAY_MS * 2 ** (this.failures - 1))
    setTimeout(() => this.fork(), delayMs)
  }

  /** Stops every process gracefully: each accepted request is answered. */
  private stop(): void {
    if (this.isStopping) return
    this.isStopping = true
    // By this the process that runs this one for npm sees that it has been noticed.
    if (process.connected) process.disconnect()
    for (const worker of this.alive.keys()) {
      // Before it listens it owes no answer, and does not hear.
      if (this.listening.has(worker)) sendTo(worker, STOP)
      else worker.process.kill('SIGKILL')
    }
    this.exitIfAlone()
    setTimeout(() => {
      for (const worker of this.alive.keys()) if (!this.noticed.has(worker)) worker.process.kill('SIGKILL')
    }, NOTICE_MS).unref()
  }

  /** Ends every process at once. */
  private endAll(): never {
    for (const worker of this.alive.keys()) worker.process.kill('SIGKILL')
    process.exit(1)
  }

  private exitIfAlone(): void {
    if (this.alive.size === 0) process.exit(this.hasFailed ? 1 : 0)
  }
}

/** Runs the service as several processes. @returns Resolves once the first of them listens */
export const supervise = (count: number): Promise<void> => new Supervisor().start(count)
