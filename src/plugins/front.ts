import { createServer, type IncomingMessage, type RequestListener, type Server } from 'node:http'
import { Server as NetServer, type Socket } from 'node:net'
import { performance } from 'node:perf_hooks'
import { setImmediate as nextTurn, setTimeout as wait } from 'node:timers/promises'
import type { FastifyBaseLogger, FastifyInstance } from 'fastify'
import type { RequestProblemCode } from '../border/problem-codes.js'
import { callerLeft, type RequestProblem } from '../border/request-problem.js'
import { Answer } from './answer.js'
import { Connection } from './connection.js'
import type { LeaveToRead } from './cors.js'
import { headFault } from './http-rules.js'
import { InHand } from './in-hand.js'
import { mayTakeItsTime } from './patience.js'
import { bareProblem, NO_SNIFFING } from './problems.js'
import { RequestDurations } from './request-durations.js'
import { REQUEST_ID } from './request-ids.js'
import { type QueueOptions, RequestQueue } from './request-queue.js'

declare module 'fastify' {
  interface FastifyInstance {
    /** From now on `GET /readyz` answers 503, and everything else as before. */
    turnAway(): void
    /** Takes no more connections, and ends those there are after what they are owed; before close(). */
    endConnections(): Promise<void>
    /** The requests that have come and are not answered. */
    readonly inHand: InHand
  }
}

/** Addresses that answer under any load: who watches must not be sent away when there is something to see. */
const NEVER_REFUSED = /^\/(?:livez|readyz|metrics)(?:$|\?)/

const RETRY_AFTER_S = 1

/**
 * After a refusal a connection is not read until Retry-After is over or the thread has time: who asks again at once would keep it
 * busy with refusing.
 */
const REST_MS = 1000 * RETRY_AFTER_S
const ROUSE_EVERY_MS = 10

interface Resting {
  readonly connection: Connection
  readonly sinceMs: number
}

/** A refusal costs less than a line of log: lines come no closer than this. */
const TELL_EVERY_MS = 10_000

/** How often answers are looked for that are still on their way. */
const LOOK_EVERY_MS = 1_000

/** Longest time for which connections that ask nothing more are kept while closing. */
const LINGER_MS = 1_000

/** Route of requests to addresses where nothing is. */
const NOWHERE = '(none)'

/** Notes an answer that is done, and logs it; a listener of every answer. */
function measurer(durations: RequestDurations, owed: Set<Answer>, inHand: InHand) {
  return function measure(this: Answer): void {
    owed.delete(this)
    const { request, place } = this
    if (place !== undefined) inHand.done(place)
    const durationMs = performance.now() - this.cameMs
    const route = request?.routeOptions.url ?? NOWHERE
    const { method = '' } = this.req
    const status = this.writableFinished ? this.statusCode : 'aborted'
    durations.record(route, method, status, durationMs / 1000)
    request?.log.info({ method, route, status, durationMs: Number(durationMs.toFixed(3)) }, 'request')
  }
}

/** Answers a problem without the framework. */
function answerBare(
  answer: Answer,
  code: RequestProblemCode,
  detail: string,
  fields: Readonly<Record<string, string | number>>,
): void {
  const { status, headers, text } = bareProblem(code, detail, fields)
  answer.writeHead(status, headers).end(text)
}

export interface FrontOptions {
  readonly queue: QueueOptions
  readonly leaveToRead: LeaveToRead
  /** How long an answer may be left unread. */
  readonly stallMs: number
  /** How long a request may take to come whole. */
  readonly requestTimeoutMs: number
}

/**
 * What stands before the framework: it refuses what is too much at a fraction of the cost of an answer, measures and logs each
 * request without a hook, and lets connections end in order.
 */
export class Front {
  readonly queue: RequestQueue<Answer>
  readonly durations = new RequestDurations()
  readonly inHand = new InHand()
  /** Requests refused because there were too many. */
  shed = 0
  /** Whether connections are being ended, each after what it still has to answer. */
  private ending = false
  /** Whether the application is being closed: each answer is the last of its connection. */
  private closing = false
  private readonly options: FrontOptions
  private readonly connections = new Map<Socket, Connection>()
  /** Those on which as many requests wait as may. */
  private readonly full = new Set<Connection>()
  /** Answers that were begun and are not done. */
  private readonly owed = new Set<Answer>()
  private readonly measure: (this: Answer) => void
  /** Connections that were refused in this turn. */
  private readonly refused: Connection[] = []
  /** Connections that are not read, those that have been so longest first. */
  private readonly resting: Resting[] = []
  private rousing: NodeJS.Timeout | undefined
  private log: FastifyBaseLogger | undefined
  private toldOfSheddingMs = Number.NEGATIVE_INFINITY

  constructor(options: FrontOptions) {
    this.options = options
    this.queue = new RequestQueue(options.queue, ({ onTurn }) => onTurn!())
    this.measure = measurer(this.durations, this.owed, this.inHand)
  }

  /** Requests that have come and are not answered to the end. */
  get active(): number {
    return this.queue.length + this.owed.size
  }

  /** Makes the server of an application. Given to Fastify as `serverFactory`. */
  readonly makeServer = (answer: RequestListener, options: Record<string, unknown>): Server => {
    const server = createServer(
      { ...(options.http as object), ServerResponse: Answer },
      (request, response) => this.take(answer, request, response as Answer),
    )
    server.on('connection', (socket: Socket) => this.connect(socket))
    // After what is no HTTP, and after CONNECT, the parser is not to be given anything more.
    server.on('clientError', ({ code }: NodeJS.ErrnoException, socket: Socket) => {
      const connection = this.connections.get(socket)
      if (connection !== undefined && code !== 'ERR_HTTP_REQUEST_TIMEOUT') connection.isDeaf = true
    })
    server.on('timeout', (socket) => this.endQuiet(socket))
    server.keepAliveTimeout = options.keepAliveTimeout as number
    server.requestTimeout = options.requestTimeout as number
    // Their size is limited; beyond a number Node would pass over those that follow.
    server.maxHeadersCount = 0
    return server
  }

  /** Register before every other hook: what a hook refuses is a request of its route all the same. */
  register(app: FastifyInstance): void {
    this.log = app.log
    this.inHand.register(app)
    app.addHook('onRequest', (request, reply, done) => {
      if (reply.raw instanceof Answer) {
        reply.raw.request = request
        reply.raw.place = this.inHand.take(request)
      }
      reply.header(REQUEST_ID, request.id).headers(NO_SNIFFING)
      done()
    })
    app.addHook('preValidation', ({ raw }, { raw: answer }, done) => {
      if (!(answer instanceof Answer) || this.queue.isTurnOf(answer)) done()
      else this.takeAgain(raw.socket, answer, done)
    })
    app.addHook('preClose', (done) => {
      this.close()
      done()
    })
    const unread = setInterval(() => this.timeUnread(), Math.min(LOOK_EVERY_MS, this.options.stallMs)).unref()
    app.addHook('onClose', async () => {
      clearInterval(unread)
      this.queue.close()
    })
  }

  /**
   * Stops to take connections and ends those there are, each after what it still has to answer; those that ask nothing, after a
   * moment. Without that, a request that is on its way to a connection as it closes would be lost.
   */
  async endConnections(server: Server): Promise<void> {
    this.ending = true
    // Right after the loop has looked at its sockets: a connection that the system holds for the service, but that is not yet
    // accepted, would be reset.
    await nextTurn()
    const ended = new Promise((resolve) => server.once('close', resolve))
    // The one of the class below HTTP: that of HTTP itself would cut what has no request at this moment.
    NetServer.prototype.close.call(server)
    await Promise.race([ended, wait(LINGER_MS)])
  }

  /**
   * Sees to it that no client has an answer kept for ever. Few answers are still on their way when this looks: a timeout for each
   * would cost every one. It starts anew whenever the client takes something.
   */
  private timeUnread(): void {
    for (const answer of this.owed) {
      const { socket } = answer.req
      if (!answer.headersSent || answer.isTimed || mayTakeItsTime(socket)) continue
      answer.isTimed = true
      socket.setTimeout(this.options.stallMs)
    }
  }

  /** Each answer is the last of its connection from now on, and connections that owe none are closed. */
  private close(): void {
    this.closing = true
    const owing = new Set([...this.queue].map(({ req }) => req.socket))
    for (const answer of this.owed) {
      owing.add(answer.req.socket)
      if (!answer.headersSent) answer.setHeader('connection', 'close')
    }
    // Also those on which nothing was asked yet: the server takes them for busy, and would wait until their time is over.
    for (const socket of this.connections.keys()) if (!owing.has(socket)) socket.destroy()
  }

  /** Ends a connection on which nothing moved for its time, unless the service was silent meanwhile: then it has that time again. */
  private endQuiet(socket: Socket): void {
    // A batch sees to it by itself.
    if (mayTakeItsTime(socket)) return
    const { timeout = 0 } = socket
    if (this.queue.wasSilentWithin(timeout)) socket.setTimeout(timeout)
    else socket.destroy()
  }

  private connect(socket: Socket): void {
    if (this.closing) {
      socket.destroy()
      return
    }
    this.connections.set(socket, new Connection(socket, this.full))
    socket.once('close', () => this.connections.delete(socket))
  }

  /** Headers by which the page that asks on a connection may read an answer of the bare socket. */
  readonly leaveOn = (socket: Socket): Record<string, string> =>
    this.options.leaveToRead(this.connections.get(socket)?.origin)

  /** The answer that a connection still has to give, to a request that came whole, or that it ends with. */
  readonly owedOn = (socket: Socket): Answer | undefined => {
    const { last, isDistrusted = false } = this.connections.get(socket) ?? {}
    const owed = last?.req.complete === true && !last.writableFinished
    return owed || isDistrusted ? last : undefined
  }

  /**
   * Calls back when the request that a connection is late with has not come whole once the socket was looked at again, and, where the service was
   * silent or did not read it meanwhile, once it has had its time again.
   */
  readonly whenLate = (socket: Socket, act: () => void): void => {
    const connection = this.connections.get(socket)
    if (connection === undefined) return
    const expected = connection.whole + 1
    const { requestTimeoutMs } = this.options
    const look = () => {
      if (socket.destroyed || connection.whole >= expected) return
      if (connection.isHeld || this.queue.wasSilentWithin(requestTimeoutMs))
        setTimeout(lookNext, requestTimeoutMs).unref()
      else act()
    }
    // A timer fires before the loop looks at its sockets.
    const lookNext = () => setImmediate(look)
    lookNext()
  }

  private take(handle: RequestListener, request: IncomingMessage, answer: Answer): void {
    const { socket } = request
    const connection = this.connections.get(socket)
    // What is left of a block that was read from a connection which is gone, or not trusted any more.
    if (connection === undefined || connection.isDistrusted || socket.destroyed) return
    const { origin } = request.headers
    if (origin !== undefined) connection.origin = origin
    if (this.queue.isFull(connection.address) && !NEVER_REFUSED.test(request.url ?? '')) {
      this.refuse(connection, answer)
      return
    }
    answer.on('close', this.measure)
    const fault = headFault(request)
    if (fault !== undefined) {
      connection.isDistrusted = true
      connection.last = answer
      answerBare(answer, 'malformed-http', fault, { ...this.leaveOn(socket), connection: 'close' })
      return
    }
    answer.onTurn = () => this.begin(handle, request, answer)
    connection.take(answer, () => this.queue.add(connection.address, answer))
  }

  private owe(answer: Answer): void {
    this.owed.add(answer)
    if (this.closing) answer.setHeader('connection', 'close')
  }

  private begin(handle: RequestListener, request: IncomingMessage, answer: Answer): void {
    // Whoever has gone meanwhile waits for nothing, and after an answer that ends the connection nothing is done (RFC 9112, 9.6).
    if (request.socket.destroyed || request.socket.writableEnded) return
    this.owe(answer)
    if (!this.ending || this.closing) {
      handle(request, answer)
      return
    }
    // Requests that came in one piece are all known in the next turn: the last of a connection says that it is.
    setImmediate(() => {
      if (this.connections.get(request.socket)?.last === answer) answer.setHeader('connection', 'close')
      handle(request, answer)
    })
  }

  /** Has a request wait for another turn: its body came later, and those of many may have come at once. */
  private takeAgain(socket: Socket, answer: Answer, done: (problem?: RequestProblem) => void): void {
    const connection = this.connections.get(socket)
    if (connection === undefined) {
      done(callerLeft())
      return
    }
    this.owed.delete(answer)
    answer.onTurn = () => {
      if (socket.destroyed) done(callerLeft())
      else {
        this.owe(answer)
        done()
      }
    }
    this.queue.add(connection.address, answer)
  }

  private refuse(connection: Connection, answer: Answer): void {
    this.shed++
    if (answer.cameMs - this.toldOfSheddingMs > TELL_EVERY_MS) {
      this.toldOfSheddingMs = answer.cameMs
      this.log?.warn(
        { shed: this.shed, utilization: this.queue.utilization },
        'refusing requests: overloaded',
      )
    }
    const detail = `More requests came than can be answered in time; ask again in ${RETRY_AFTER_S} s.`
    const fields = { ...this.options.leaveToRead(answer.req.headers.origin), 'retry-after': RETRY_AFTER_S }
    answerBare(answer, 'overloaded', detail, fields)
    this.refused.push(connection)
    // Not before what is left of the request was read: that would start the reading again.
    if (this.refused.length === 1) setImmediate(this.letRest)
  }

  private readonly letRest = (): void => {
    const sinceMs = performance.now()
    for (const connection of this.refused.splice(0)) {
      connection.hold('resting')
      this.resting.push({ connection, sinceMs })
    }
    this.rousing ??= setInterval(this.rouse, ROUSE_EVERY_MS).unref()
  }

  private readonly rouse = (): void => {
    const nowMs = performance.now()
    const room = this.queue.room()
    const stays = this.resting.findIndex(({ sinceMs }, n) => n >= room && nowMs - sinceMs < REST_MS)
    const rested = this.resting.splice(0, stays < 0 ? this.resting.length : stays)
    for (const { connection } of rested) connection.release('resting')
    if (this.resting.length > 0) return
    clearInterval(this.rousing)
    this.rousing = undefined
  }
}
