import { Readable } from 'node:stream'
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import type { Batch, BatchRun } from '../http/batches.js'
import { RequestProblem } from '../http/request-problem.js'
import type { BatchEnd, BatchSummaryShape } from '../schemas/vehicle-batches.js'
import { CallerCounts, callerOf } from './caller-counts.js'
import { exemptFromRequestTimeout } from './request-timeout-exemption.js'
import type { TimeSlicer } from './time-slicing.js'

export interface BatchLimits {
  /** Most batches at once, for all callers and for one. */
  readonly maxBatches: number
  readonly maxBatchesOfOne: number
  /** How long the client may leave the response unread. */
  readonly stallMs: number
  /** Longest time of a batch. */
  readonly longestMs: number
  /** Whether the event loop was blocked within so many milliseconds, so that a timeout may be the fault of the service. */
  readonly wasBlockedWithin: (ms: number) => boolean
}

/** Size of the chunks of the response [characters]. V8 frees one of 128 KiB or more only at its next full garbage collection. */
const CHUNK = 65_536

/** How long callers may take to read the rest of their response while the service stops. */
const CLOSING_MS = 5000

const RETRY = { 'retry-after': '5' }

/** Counts the running batches and refuses those over the limit. The function returned for a batch is to be called when it has ended. */
function admission({ maxBatches, maxBatchesOfOne }: BatchLimits) {
  const running = new CallerCounts()
  return (request: FastifyRequest): (() => void) => {
    const caller = callerOf(request)
    const own = running.of(caller)
    if (own >= maxBatchesOfOne) {
      const detail = `${own} batches of this caller are being answered; send the next when one has ended.`
      throw new RequestProblem('rate-limited', detail, [], RETRY)
    }
    if (running.all >= maxBatches) {
      const detail = 'As many batches are being answered as may be at once; try again.'
      throw new RequestProblem('unavailable', detail, [], RETRY)
    }
    return running.take(caller)
  }
}

/** A running batch. */
class Run implements BatchRun {
  private readonly ended = new AbortController()
  readonly signal = this.ended.signal
  /** Whether the batch is waiting for the caller to read. */
  private unread = false
  private readonly reply: FastifyReply
  private readonly slicer: TimeSlicer

  constructor(reply: FastifyReply, slicer: TimeSlicer) {
    this.reply = reply
    this.slicer = slicer
  }

  end(reason: BatchEnd): void {
    this.ended.abort(reason)
  }

  /** Ends a batch that has timed out; closes the connection if the caller does not read, since no summary would reach it. */
  giveUp(reason: BatchEnd): void {
    if (this.unread) this.hangUp()
    else this.end(reason)
  }

  hangUp(): void {
    this.reply.raw.destroy()
  }

  /** The text of the response: the answers to the items, and the summary. */
  async *text({ source, answer, framing }: Batch): AsyncGenerator<string, void> {
    const { signal } = this
    const counts = { lines: 0, blank: 0, ok: 0, failed: 0 }
    let text = framing.open
    let between = ''
    const take = () => {
      const taken = text
      text = ''
      this.unread = true
      return taken
    }
    try {
      let slice = await this.slicer.next()
      reading: for await (const block of source.blocks(this)) {
        if (slice.isOver()) slice = await this.slicer.next()
        for (const item of block) {
          if (signal.aborted) break reading
          counts.lines++
          if (item === undefined) counts.blank++
          else {
            const { ok, text: answered } = await answer(item)
            counts[ok ? 'ok' : 'failed']++
            text += between + answered + framing.after
            between = framing.between
          }
          if (text.length >= CHUNK) {
            yield take()
            this.unread = false
          }
          if (slice.isOver()) slice = await this.slicer.next()
        }
        // The next block may take long to arrive: send what is ready.
        if (text !== '') {
          yield take()
          this.unread = false
        }
      }
    } catch (error) {
      this.reply.log.error({ err: error }, 'batch failed')
      this.end('failed')
    }
    const summary: BatchSummaryShape = { ...counts, complete: !signal.aborted }
    if (signal.aborted) summary.reason = signal.reason as BatchEnd
    text += framing.close({ ...summary, ...source.summary?.() })
    yield take()
    this.unread = false
    if (signal.aborted) await source.discard?.()
    // Everything has been sent; the rest is waiting for the caller to read.
    this.unread = true
  }
}

/**
 * Answers batches in time slices, with backpressure from the caller and a limit on concurrent batches. A batch ends early if its caller
 * stalls, if it takes too long, or if the service stops; its summary then gives the reason.
 */
export function registerBatches(app: FastifyInstance, limits: BatchLimits, slicer: TimeSlicer) {
  const admit = admission(limits)
  const open = new Set<Run>()
  let closing = false
  app.addHook('preClose', (done) => {
    closing = true
    for (const run of open) run.end('closing')
    setTimeout(() => {
      for (const run of open) run.hangUp()
    }, CLOSING_MS).unref()
    done()
  })

  return (request: FastifyRequest, reply: FastifyReply, batch: Batch): void => {
    reply.header('content-type', batch.framing.mediaType)
    // HEAD needs the headers only.
    if (request.method === 'HEAD') return void reply.send(Readable.from([]))
    const release = admit(request)
    const run = new Run(reply, slicer)
    open.add(run)
    exemptFromRequestTimeout(request.raw.socket)
    if (closing) run.end('closing')
    const outOfTime = setTimeout(() => run.giveUp('out-of-time'), limits.longestMs)
    const { raw } = reply
    // The timeout of the socket, since it restarts when the caller reads a part of a chunk. Injected requests have no socket.
    const { stallMs } = limits
    raw
      .on('timeout', () => {
        if (limits.wasBlockedWithin(stallMs)) raw.socket?.setTimeout(stallMs)
        else run.giveUp('stalled')
      })
      .socket?.setTimeout?.(stallMs)
    raw.once('close', () => {
      clearTimeout(outOfTime)
      open.delete(run)
      release()
    })
    reply.header('connection', 'close').send(Readable.from(run.text(batch)))
  }
}
