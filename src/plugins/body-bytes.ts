import type { FastifyInstance } from 'fastify'
import { NDJSON } from '../border/ndjson.js'
import { RequestProblem } from '../border/request-problem.js'
import { callerOf } from './shares.js'

export interface BodyBytesLimits {
  /** Bytes of bodies that are held at once, of all callers and of one. */
  readonly most: number
  readonly maxOfOne: number
}

/** What a piece of a body takes beside its bytes: sent byte by byte, a body would else take hundreds of times what is counted. */
const PIECE_BYTES = 256

/** A body that has come, or is coming. */
interface Held {
  readonly caller: string
  readonly sinceMs: number
  bytes: number
  /** Gives it up; undefined once it has come whole. */
  refuse: ((problem: RequestProblem) => void) | undefined
}

const tooMany = (limit: number, whose: string) =>
  new RequestProblem(
    'overloaded',
    `The bodies of requests ${whose} come to more than ${limit} bytes; send this one again when others are answered.`,
    [],
    { 'retry-after': '5', connection: 'close' },
  )

/** How much of the memory a body has had for how long: who sends a little, or fast, is never the first. */
const burden = ({ bytes, sinceMs }: Held) => bytes * (performance.now() - sinceMs)

/**
 * Bounds the bytes of bodies that are held until their requests are answered. Where one more would be too much, of the bodies that are still coming the
 * one that has held the most for the longest is refused: of the caller who has too much, or of all. One that says by its length that it has no room
 * beside those of its caller that have come whole is refused before it is read.
 */
export function registerBodyBytes(app: FastifyInstance, { most, maxOfOne }: BodyBytesLimits): void {
  const all = new Set<Held>()
  /** Bytes by caller: looked at for each piece, where to add up all bodies would cost more the more there are. */
  const ofCaller = new Map<string, number>()
  let ofAll = 0

  function count(caller: string, bytes: number): void {
    ofAll += bytes
    const own = (ofCaller.get(caller) ?? 0) + bytes
    if (own > 0) ofCaller.set(caller, own)
    else ofCaller.delete(caller)
  }

  function release(held: Held): void {
    if (all.delete(held)) count(held.caller, -held.bytes)
  }

  /** Whether a body of so many bytes has no room beside those of its caller, whichever of them were refused. */
  function hasNoRoom(caller: string, bytes: number): boolean {
    if ((ofCaller.get(caller) ?? 0) + bytes <= maxOfOne) return false
    let whole = 0
    for (const held of all) if (held.caller === caller && held.refuse === undefined) whole += held.bytes
    return whole + bytes > maxOfOne
  }

  /** Refuses bodies that are coming until the others are within a limit, or none is coming. */
  function keepWithin(
    limit: number,
    bytes: () => number,
    among: (held: Held) => boolean,
    whose: string,
  ): void {
    while (bytes() > limit) {
      const coming = [...all].filter((held) => held.refuse !== undefined && among(held))
      const [first, ...others] = coming
      if (first === undefined) return
      const heaviest = others.reduce((one, other) => (burden(other) > burden(one) ? other : one), first)
      release(heaviest)
      heaviest.refuse!(tooMany(limit, whose))
    }
  }

  app.addHook('preParsing', (request, reply, payload, done) => {
    const { headers } = request
    const hasBody = headers['content-length'] !== undefined || headers['transfer-encoding'] !== undefined
    // A batch is read line by line, and holds no more than one.
    if (!hasBody || headers['content-type']?.startsWith(NDJSON)) return done(null, payload)
    const caller = callerOf(request)
    if (hasNoRoom(caller, Number(headers['content-length'] ?? 0)))
      return done(tooMany(maxOfOne, 'of one caller'))
    const held: Held = {
      caller,
      sinceMs: performance.now(),
      bytes: 0,
      refuse: (problem) => {
        held.refuse = undefined
        payload.emit('error', problem)
      },
    }
    all.add(held)
    const answered = () => release(held)
    reply.raw.once('close', answered).once('finish', answered)
    payload.on('data', (piece: Buffer) => {
      if (!all.has(held)) return
      const bytes = piece.length + PIECE_BYTES
      held.bytes += bytes
      count(caller, bytes)
      const ofOne = () => ofCaller.get(caller) ?? 0
      keepWithin(maxOfOne, ofOne, (one) => one.caller === caller, 'of one caller')
      keepWithin(
        most,
        () => ofAll,
        () => true,
        'of all callers',
      )
    })
    payload.once('end', () => {
      held.refuse = undefined
    })
    done(null, payload)
  })
}
