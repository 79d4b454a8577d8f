import type { Socket } from 'node:net'
import type { Answer } from './answer.js'
import { networkOf } from './client-network.js'
import { isExemptFromRequestTimeout } from './request-timeout-exemption.js'

/** Most pipelined requests that wait on a connection, and most of their bytes; the connection is then paused until half have been started. */
const MAX_PIPELINED = 16
const MAX_PIPELINED_BYTES = 65_536

/**
 * Received bytes are passed to the parser in pieces, so that a connection can be paused between them: the system delivers up to 64 KiB
 * at once, enough for two thousand of the shortest requests. A body that is still incomplete is parsed in larger pieces.
 */
const PIECE_BYTES = 1024
/**
 * Size of the pieces if more than PIECE_BYTES have arrived, as with many pipelined requests: a KiB contains thirty of the shortest,
 * and each becomes an object of several KiB before the connection can be paused.
 */
const PIPELINED_PIECE_BYTES = 128
const BODY_PIECE_BYTES = 8192

/** Most connections paused as full at once: each holds up to 128 KiB that are read and not parsed. The next one is closed. */
const MAX_FULL = 256

/** Why a connection is paused: it has the maximum of pipelined requests, or a request was refused. */
type PauseReason = 'full' | 'refused'

/** A connection with its pipelined requests. */
export class Connection {
  /** Origin header of the last request. */
  origin: string | undefined
  /** No further request is accepted: after a malformed head, what follows may be a smuggled request. */
  isDone = false
  /** Further bytes are not parsed: they are not HTTP. */
  isIgnored = false
  /** Response to the last request. */
  last: Answer | undefined
  readonly socket: Socket
  /** Address of the client: clients are served in turns. */
  readonly address: string
  private pipelined = 0
  private received = 0
  /** Bytes received when the current request was started. */
  private bytesAtStart = 0
  private readonly pauseReasons = new Set<PauseReason>()
  /** All connections that are paused as full. */
  private readonly full: Set<Connection>
  private readonly parse: (piece: Buffer) => void
  /** Bytes that are received and not parsed. */
  private unparsed: Buffer | undefined
  private isParsing = false

  constructor(socket: Socket, full: Set<Connection>) {
    this.socket = socket
    this.address = networkOf(socket.remoteAddress ?? '')
    this.full = full
    socket.once('close', () => full.delete(this))
    // Replaces the listener of the server, which parses everything at once.
    const [parse] = socket.listeners('data')
    this.parse = parse as typeof this.parse
    socket.removeListener('data', this.parse)
    socket.on('data', (chunk: Buffer) => {
      this.unparsed = this.unparsed === undefined ? chunk : Buffer.concat([this.unparsed, chunk])
      this.parseUnparsed()
    })
    // Reading or discarding a body resumes the socket, even while the connection is paused.
    socket.on('resume', () => {
      if (this.isPaused) socket.pause()
      else this.parseUnparsed()
    })
  }

  /** Whether the socket is not read; the client cannot be late meanwhile. */
  get isPaused(): boolean {
    return this.pauseReasons.size > 0
  }

  /** Number of complete requests received. */
  get complete(): number {
    return this.last?.req.complete === false ? this.received - 1 : this.received
  }

  pause(reason: PauseReason): void {
    this.pauseReasons.add(reason)
    this.socket.pause()
  }

  resume(reason: PauseReason): void {
    if (this.pauseReasons.delete(reason) && !this.isPaused) this.socket.resume()
  }

  /**
   * Parses the received bytes until the connection is paused or none are left. The server also pauses the socket while its responses are
   * not read: its parser accepts nothing then.
   */
  private parseUnparsed(): void {
    if (this.isParsing) return
    this.isParsing = true
    while (this.unparsed !== undefined && !this.isPaused && !this.socket.isPaused()) {
      const bytes = this.pieceBytes()
      const piece = this.unparsed.subarray(0, bytes)
      this.unparsed = this.unparsed.length > bytes ? this.unparsed.subarray(bytes) : undefined
      if (this.isIgnored || this.isDone || this.socket.destroyed) this.unparsed = undefined
      else this.parse(piece)
      // After each complete message the parser resumes the socket, which would read on although this connection is paused.
      if (this.isPaused) this.socket.pause()
    }
    this.isParsing = false
  }

  private pieceBytes(): number {
    if (this.last?.req.complete !== false)
      return (this.unparsed?.length ?? 0) > PIECE_BYTES ? PIPELINED_PIECE_BYTES : PIECE_BYTES
    // A batch is the last request of its connection, so its body needs no pieces.
    return isExemptFromRequestTimeout(this.socket) ? Number.POSITIVE_INFINITY : BODY_PIECE_BYTES
  }

  private pauseAsFull(): void {
    if (this.full.size >= MAX_FULL && !this.full.has(this)) this.socket.destroy()
    else {
      this.full.add(this)
      this.pause('full')
    }
  }

  private resumeIfFull(): void {
    if (this.full.delete(this)) this.resume('full')
  }

  /** Receives a request; starts it at once, or after the response to the previous one. */
  receive(answer: Answer, start: () => void): void {
    const before = this.last
    this.last = answer
    this.received++
    const { bytesRead } = this.socket
    if (before === undefined || before.writableFinished) {
      this.bytesAtStart = bytesRead
      start()
      return
    }
    this.pipelined++
    if (this.pipelined >= MAX_PIPELINED || bytesRead - this.bytesAtStart > MAX_PIPELINED_BYTES)
      this.pauseAsFull()
    // Pipelined requests are handled one after the other, since they may not be safe to run in parallel (RFC 9112, 9.3.2).
    before.once('close', () => {
      if (this.socket.destroyed) return
      this.pipelined--
      this.bytesAtStart = bytesRead
      start()
      if (this.pipelined <= MAX_PIPELINED / 2) this.resumeIfFull()
    })
  }
}
