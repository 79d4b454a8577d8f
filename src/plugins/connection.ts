import type { Socket } from 'node:net'
import { normalizeIP } from '@fastify/rate-limit'
import type { Answer } from './answer.js'
import { mayTakeItsTime } from './patience.js'

/** Requests that may wait on a connection for the one before them, and their bytes; it is not read then until half have had their turn. */
const MAX_BEHIND = 16
const MAX_BYTES_BEHIND = 65_536

/**
 * What came is handed to the parser in pieces, so that it can be held between them: the system hands over 64 KiB at once, two thousand of
 * the shortest requests. A body that is not whole yet may have larger ones.
 */
const PIECE_BYTES = 1024
/**
 * Pieces of more than that at once, which is where many requests come together: a KiB holds thirty of the shortest, each of
 * which is an object of some KiB before the connection can be paused.
 */
const PIPELINED_BYTES = 128
const BODY_PIECE_BYTES = 8192

/** Connections that may be held so at once: each has up to 128 KiB that are read and not parsed. One more is hung up on. */
const MAX_FULL = 256

/** Why a connection is not read: requests enough wait on it, or it was refused one and rests. */
type Hold = 'full' | 'resting'

/** A connection, and what has come on it. */
export class Connection {
  /** Of which origin the page is that asked last. */
  origin: string | undefined
  /** Nothing more is taken: what follows may be no request of whoever sent the one before. */
  isDistrusted = false
  /** What comes is no request any more, and not looked at. */
  isDeaf = false
  /** The answer that is owed last. */
  last: Answer | undefined
  readonly socket: Socket
  /** Where it comes from: those from one place take turns with those from another. */
  readonly address: string
  private behind = 0
  private taken = 0
  /** What had come when the request that is being answered was read. */
  private bytesAtTurn = 0
  private readonly holds = new Set<Hold>()
  /** The connections on which requests enough wait, this one or others. */
  private readonly full: Set<Connection>
  private readonly parse: (piece: Buffer) => void
  /** What came and is not parsed. */
  private unparsed: Buffer | undefined
  private isParsing = false

  constructor(socket: Socket, full: Set<Connection>) {
    this.socket = socket
    this.address = normalizeIP(socket.remoteAddress ?? '')
    this.full = full
    socket.once('close', () => full.delete(this))
    // In the place of the listener of the server, who takes all that comes at once.
    const [parse] = socket.listeners('data')
    this.parse = parse as typeof this.parse
    socket.removeListener('data', this.parse)
    socket.on('data', (chunk: Buffer) => {
      this.unparsed = this.unparsed === undefined ? chunk : Buffer.concat([this.unparsed, chunk])
      this.parseOn()
    })
    // Whoever reads a body, or passes over one, has its connection read, whatever this says.
    socket.on('resume', () => {
      if (this.isHeld) socket.pause()
      else this.parseOn()
    })
  }

  /** Whether it is not read, so that nobody can be late on it. */
  get isHeld(): boolean {
    return this.holds.size > 0
  }

  /** Requests that have come whole. */
  get whole(): number {
    return this.last?.req.complete === false ? this.taken - 1 : this.taken
  }

  hold(why: Hold): void {
    this.holds.add(why)
    this.socket.pause()
  }

  release(why: Hold): void {
    if (this.holds.delete(why) && !this.isHeld) this.socket.resume()
  }

  /**
   * Parses what has come, until it is held, there is no more, or the server has paused the socket because its answers are not read: its parser takes
   * nothing then.
   */
  private parseOn(): void {
    if (this.isParsing) return
    this.isParsing = true
    while (this.unparsed !== undefined && !this.isHeld && !this.socket.isPaused()) {
      const bytes = this.pieceBytes()
      const piece = this.unparsed.subarray(0, bytes)
      this.unparsed = this.unparsed.length > bytes ? this.unparsed.subarray(bytes) : undefined
      if (this.isDeaf || this.isDistrusted || this.socket.destroyed) this.unparsed = undefined
      else this.parse(piece)
    }
    this.isParsing = false
  }

  private pieceBytes(): number {
    if (this.last?.req.complete !== false)
      return (this.unparsed?.length ?? 0) > PIECE_BYTES ? PIPELINED_BYTES : PIECE_BYTES
    // A batch is the last request of its connection, and reads by the block.
    return mayTakeItsTime(this.socket) ? Number.POSITIVE_INFINITY : BODY_PIECE_BYTES
  }

  private fill(): void {
    if (this.full.size >= MAX_FULL && !this.full.has(this)) this.socket.destroy()
    else {
      this.full.add(this)
      this.hold('full')
    }
  }

  private drain(): void {
    if (this.full.delete(this)) this.release('full')
  }

  /** Takes a request; its turn comes at once, or after the answer to the one before it. */
  take(answer: Answer, onTurn: () => void): void {
    const before = this.last
    this.last = answer
    this.taken++
    const { bytesRead } = this.socket
    if (before === undefined || before.writableFinished) {
      this.bytesAtTurn = bytesRead
      onTurn()
      return
    }
    this.behind++
    if (this.behind >= MAX_BEHIND || bytesRead - this.bytesAtTurn > MAX_BYTES_BEHIND) this.fill()
    // A change is not made beside what was asked before it on its connection (RFC 9112, 9.3.2).
    before.once('close', () => {
      if (this.socket.destroyed) return
      this.behind--
      this.bytesAtTurn = bytesRead
      onTurn()
      if (this.behind <= MAX_BEHIND / 2) this.drain()
    })
  }
}
