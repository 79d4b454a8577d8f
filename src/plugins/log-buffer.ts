import { writeSync } from 'node:fs'
import { hostname } from 'node:os'
import type { DestinationStream } from 'pino'

/** Lines are written together once so many bytes of them wait: what a pipe takes in one piece, so that lines of several processes do not mix. */
const BLOCK_BYTES = 4096
/** Longest time that a line waits to be written. */
const FLUSH_EVERY_MS = 1000
/** From this level on, a line is written at once: it may be the last one before the process ends. */
const WARN = 40

const STDOUT = 1
/** How often, and at which interval, a write is tried again while the pipe of the log is full. */
const MAX_RETRIES = 100
const RETRY_MS = 10
const PAUSE = new Int32Array(new SharedArrayBuffer(4))

/** Asks pino to set `lastLevel` before each line. */
const SETS_LAST_LEVEL: unique symbol = Symbol.for('pino.metadata')

/** Writes to the standard output. What cannot be written is lost: a log that nobody reads, or on a full disk, must not stop the service. */
export function writeOut(bytes: Uint8Array): void {
  let written = 0
  let retries = 0
  while (written < bytes.length) {
    try {
      written += writeSync(STDOUT, bytes, written)
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EAGAIN' || retries === MAX_RETRIES) return
      retries++
      Atomics.wait(PAUSE, 0, 0, RETRY_MS)
    }
  }
}

/** A line as the logger makes it, for threads and processes that have none. */
export const lineOf = (level: number, fields: object, msg: string): Buffer =>
  Buffer.from(
    `${JSON.stringify({ level, time: Date.now(), pid: process.pid, hostname: hostname(), ...fields, msg })}\n`,
  )

/** Lines that are not written yet, in memory shared with the watchdog thread: it writes them if the main thread cannot. */
export interface UnwrittenLines {
  readonly bytes: Uint8Array
  /** Number of bytes, at index 0. */
  readonly length: Int32Array
}

export const unwrittenBytes = ({ bytes, length }: UnwrittenLines): Uint8Array =>
  bytes.subarray(0, Atomics.load(length, 0))

/**
 * Collects the lines of the log and writes them to the standard output in blocks: a system call for each line would cost more than
 * the rest of the duties of a request (docs/decisions/0019-a-buffered-log.md).
 */
export class LogBuffer implements DestinationStream {
  readonly [SETS_LAST_LEVEL] = true
  lastLevel = 0
  readonly unwritten: UnwrittenLines
  private readonly block = Buffer.from(new SharedArrayBuffer(BLOCK_BYTES))
  private readonly length = new Int32Array(new SharedArrayBuffer(4))
  private timer: NodeJS.Timeout | undefined

  constructor() {
    this.unwritten = { bytes: this.block, length: this.length }
    process.on('exit', () => this.flushSync())
  }

  write(line: string): void {
    const bytes = Buffer.byteLength(line)
    if (this.length[0]! + bytes > BLOCK_BYTES) this.flushSync()
    if (bytes > BLOCK_BYTES) writeOut(Buffer.from(line))
    else this.add(line)
    if (this.lastLevel >= WARN) this.flushSync()
  }

  /** Writes what has been collected; pino also calls it after a line of level fatal. */
  flushSync(): void {
    writeOut(unwrittenBytes(this.unwritten))
    Atomics.store(this.length, 0, 0)
  }

  private add(line: string): void {
    const end = this.length[0]! + this.block.write(line, this.length[0]!)
    Atomics.store(this.length, 0, end)
    this.timer ??= setTimeout(() => {
      this.timer = undefined
      this.flushSync()
    }, FLUSH_EVERY_MS).unref()
  }
}
