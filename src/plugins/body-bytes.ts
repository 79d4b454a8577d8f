import type { FastifyInstance } from 'fastify'
import { NDJSON } from '../border/ndjson.js'
import { RequestProblem } from '../border/request-problem.js'
import { callerOf } from './caller-counts.js'

export interface BodyBytesLimits {
  /** Most bytes of bodies in memory at once, for all callers and for one. */
  readonly maxOfAll: number
  readonly maxOfOne: number
}

/** Memory that each chunk of a body takes in addition to its bytes: a body sent byte by byte takes hundreds of times its length. */
const PIECE_BYTES = 256

/** A body that has arrived or is arriving. */
interface Held {
  readonly caller: string
  readonly sinceMs: number
  bytes: number
  /** Refuses the request; undefined once the body is complete. */
  refuse: ((problem: RequestProblem) => void) | undefined
}

const tooMany = (limit: number, whose: string) =>
  new RequestProblem(
    'overloaded',
    `The bodies of requests ${whose} come to more than ${limit} bytes; send this one again when others are answered.`,
    [],
    { 'retry-after': '5', connection: 'close' },
  )

/** Memory times duration [byte·ms]: small or fast bodies are never refused first. */
const burden = ({ bytes, sinceMs }: Held) => bytes * (performance.now() - sinceMs)

/**
 * Limits the bytes of bodies that are in memory until their requests are answered. Above a limit, the incomplete body with the largest
 * burden is refused: among those of the caller who exceeds the limit of one, or among all.
 * A body whose Content-Length does not fit beside the complete ones of its caller is refused before it is read.
 */
export function registerBodyBytes(app: FastifyInstance, { maxOfAll, maxOfOne }: BodyBytesLimits): void {
  const all = new Set<Held>()
  /** Bytes by caller: needed for each chunk, so that the bodies need not be summed each time. */
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

  /** Whether a body of this length exceeds the limit of its caller even if every incomplete one is refused. */
  function hasNoRoom(caller: string, bytes: number): boolean {
    if ((ofCaller.get(caller) ?? 0) + bytes <= maxOfOne) return false
    let complete = 0
    for (const held of all) if (held.caller === caller && held.refuse === undefined) complete += held.bytes
    return complete + bytes > maxOfOne
  }

  /** Refuses incomplete bodies until the rest is within the limit, or none is incomplete. */
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
    // A batch is read line by line: only one line is in memory.
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
        maxOfAll,
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
