import { IncomingMessage } from 'node:http'
import type { Readable } from 'node:stream'
import { setTimeout as wait } from 'node:timers/promises'
import type { FastifyInstance } from 'fastify'
import type { BatchItem, BatchRun, BatchSource, Block } from '../http/batches.js'
import { isBlank, type Line, LineSplitter, NDJSON } from '../http/ndjson.js'
import { RequestProblem } from '../http/request-problem.js'
import { leaveBodies } from './raw-bodies.js'
import { parseStrictJson } from './strict-json.js'

export interface LineLimits {
  readonly maxBytes: number
  readonly maxLines: number
  readonly longestLineBytes: number
  /** How long to wait for the next line. */
  readonly stallMs: number
  /** Whether the event loop was blocked within so many milliseconds, so that a timeout may be the fault of the service. */
  readonly wasBlockedWithin: (ms: number) => boolean
}

/** How long the rest of a body is discarded after the batch has ended early: many clients read only after sending everything. */
const LINGER_MS = 2000

const ENDING = ['end', 'error', 'close'] as const

/** A closed port: a buffer transferred to it is freed at once (HTML Standard, 9.4.4). */
const { port1: CLOSED_PORT } = new MessageChannel()
CLOSED_PORT.close()

/** The lines of a body, each to be read as JSON. */
class NdjsonBody implements BatchSource {
  private readonly payload: Readable
  private readonly limits: LineLimits
  private readonly splitter: LineSplitter
  private bytes = 0
  private lines = 0
  /** Time waited since the last line that was not blank: blank lines must not keep a batch open forever. */
  private waitedMs = 0

  constructor(payload: Readable, limits: LineLimits) {
    this.payload = payload
    this.limits = limits
    this.splitter = new LineSplitter(limits.longestLineBytes)
  }

  async *blocks(run: BatchRun): AsyncGenerator<Block, void> {
    for await (const chunk of this.chunks(run)) {
      this.bytes += chunk.length
      const over = this.bytes - this.limits.maxBytes
      yield this.items(this.splitter.push(over > 0 ? chunk.subarray(0, -over) : chunk), run)
      if (over > 0) run.end('too-many-bytes')
    }
    if (this.payload.readableEnded) yield this.items(this.splitter.end(), run)
  }

  async discard(): Promise<void> {
    if (this.payload.readableEnded || this.payload.destroyed) return
    const lingered = new AbortController()
    const over = () => lingered.abort()
    this.payload.on('end', over).on('close', over).resume()
    await wait(LINGER_MS, undefined, { signal: lingered.signal }).catch(() => undefined)
  }

  /** The chunks of the body. Unlike the iterator of the stream, it can be aborted while waiting and does not destroy the stream. */
  private async *chunks(run: BatchRun): AsyncGenerator<Buffer, void> {
    const { payload } = this
    let chunk: Buffer | undefined
    let wake = () => {}
    const woken = () => wake()
    // One chunk at a time: read() would copy all buffered chunks into a new one.
    const take = (taken: Buffer) => {
      chunk = taken
      payload.pause()
      wake()
    }
    for (const event of ENDING) payload.on(event, woken)
    payload.on('data', take)
    run.signal.addEventListener('abort', woken)
    try {
      while (!run.signal.aborted) {
        if (chunk !== undefined) {
          const taken = chunk
          chunk = undefined
          yield taken
          this.free(taken)
        } else if (payload.readableEnded || payload.destroyed) return
        else {
          const fromMs = performance.now()
          const stopWaiting = this.whenStalled(() => run.end('stalled'))
          payload.resume()
          await new Promise<void>((resolve) => {
            wake = resolve
          })
          stopWaiting()
          this.waitedMs += performance.now() - fromMs
        }
      }
    } finally {
      for (const event of ENDING) payload.off(event, woken)
      payload.off('data', take)
      run.signal.removeEventListener('abort', woken)
    }
  }

  /** Calls back if no line arrives in time. @returns Cancels it */
  private whenStalled(act: () => void): () => void {
    const { stallMs, wasBlockedWithin } = this.limits
    let isOver = false
    const check = () => {
      if (isOver) return
      if (wasBlockedWithin(stallMs)) timer = setTimeout(checkAfterPoll, stallMs)
      else act()
    }
    // Timers fire before the event loop polls its sockets.
    const checkAfterPoll = () => setImmediate(check)
    let timer = setTimeout(checkAfterPoll, stallMs - this.waitedMs)
    return () => {
      isOver = true
      clearTimeout(timer)
    }
  }

  /**
   * Frees the memory of a chunk that has been read. Chunks live long enough to reach the old generation, whose collection would start
   * only after 64 MiB of them.
   */
  private free({ buffer, byteLength }: Buffer): void {
    // Only the chunks of the HTTP parser are known to be used by nobody else.
    if (this.payload instanceof IncomingMessage && buffer.byteLength === byteLength)
      CLOSED_PORT.postMessage(undefined, [buffer as ArrayBuffer])
  }

  private *items(lines: Iterable<Line>, run: BatchRun): Generator<BatchItem | undefined, void> {
    for (const line of lines) {
      if (this.lines === this.limits.maxLines) return run.end('too-many-lines')
      this.lines++
      if (line !== undefined && isBlank(line)) yield undefined
      else {
        this.waitedMs = 0
        yield { line: this.lines, read: () => this.parsed(line) }
      }
    }
  }

  private parsed(line: Line): unknown {
    if (line !== undefined) return parseStrictJson(line, 'line')
    const { longestLineBytes } = this.limits
    throw new RequestProblem('line-too-long', `The line is longer than ${longestLineBytes} bytes.`)
  }
}

/** Makes the routes of a scope accept NDJSON only; a body becomes a batch source. */
export function takeNdjson(scope: FastifyInstance, limits: LineLimits): void {
  scope.removeAllContentTypeParsers()
  scope.addContentTypeParser(NDJSON, (request, payload, done) => {
    if (Number(request.headers['content-length'] ?? 0) > limits.maxBytes) {
      return done(
        new RequestProblem(
          'body-too-large',
          `The body is larger than ${limits.maxBytes} bytes; send it in parts.`,
        ),
      )
    }
    done(null, new NdjsonBody(payload, limits))
  })
  // Items are validated one by one: an invalid item is no fault of the body.
  leaveBodies(scope)
}
