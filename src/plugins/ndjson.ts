import { IncomingMessage } from 'node:http'
import type { Readable } from 'node:stream'
import { setTimeout as wait } from 'node:timers/promises'
import type { FastifyInstance } from 'fastify'
import type { BatchItem, BatchRun, BatchSource, Block } from '../border/batches.js'
import { isBlank, type Line, LineSplitter, NDJSON } from '../border/ndjson.js'
import { RequestProblem } from '../border/request-problem.js'
import { leaveBodies } from './raw-bodies.js'
import { parseStrictJson } from './strict-json.js'

export interface LineLimits {
  readonly maxBytes: number
  readonly maxLines: number
  readonly longestLineBytes: number
  /** How long the next line may be waited for. */
  readonly stallMs: number
  /** Whether the service was silent lately, so that nobody can have been late. */
  readonly wasSilentWithin: (ms: number) => boolean
}

/** How long a caller that was cut off may go on sending before it is hung up on: many read only after they have sent. */
const LINGER_MS = 2000

const ENDING = ['end', 'error', 'close'] as const

/** A port without another end: what is handed over to it is gone at once (HTML Standard, 9.4.4). */
const { port1: NOWHERE } = new MessageChannel()
NOWHERE.close()

/** The lines of a body, each to be read as JSON. */
class NdjsonBody implements BatchSource {
  private readonly payload: Readable
  private readonly limits: LineLimits
  private readonly splitter: LineSplitter
  private bytes = 0
  private lines = 0
  /** Spent on waiting since the last line. A blank line is none: a caller could send them for ever at no cost. */
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

  /** The chunks of the body. Unlike the body's own iterator this stops waiting when told to, and leaves the body open. */
  private async *chunks(run: BatchRun): AsyncGenerator<Buffer, void> {
    const { payload } = this
    let chunk: Buffer | undefined
    let wake = () => {}
    const woken = () => wake()
    // One at a time, as it came: read() would put all that is there together in one that is new.
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
          this.giveBack(taken)
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

  /** Calls back when nothing came for too long, unless it is stopped. */
  private whenStalled(act: () => void): () => void {
    const { stallMs, wasSilentWithin } = this.limits
    let isOver = false
    const look = () => {
      if (isOver) return
      if (wasSilentWithin(stallMs)) timer = setTimeout(lookNext, stallMs)
      else act()
    }
    // A timer fires before the loop looks at its sockets.
    const lookNext = () => setImmediate(look)
    let timer = setTimeout(lookNext, stallMs - this.waitedMs)
    return () => {
      isOver = true
      clearTimeout(timer)
    }
  }

  /**
   * Gives the memory of a chunk back that is read. A chunk waits long enough to be taken for something that stays, and would else be
   * kept until 64 MiB of them have come together.
   */
  private giveBack({ buffer, byteLength }: Buffer): void {
    // The parser of HTTP makes a chunk for this request alone; those of others may be looked at elsewhere.
    if (this.payload instanceof IncomingMessage && buffer.byteLength === byteLength)
      NOWHERE.postMessage(undefined, [buffer as ArrayBuffer])
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

/** Lets the routes of a scope take lines of JSON beside JSON; the body is then a source of a batch. */
export function takeNdjson(scope: FastifyInstance, limits: LineLimits): void {
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
  // One item that is wrong is that one's fault, not the body's.
  leaveBodies(scope)
}
