import { createServer, type IncomingMessage, type RequestListener, type Server } from 'node:http'
import { Server as NetServer, type Socket } from 'node:net'
import { performance } from 'node:perf_hooks'
import { setImmediate as nextIteration, setTimeout as wait } from 'node:timers/promises'
import type { FastifyBaseLogger, FastifyInstance } from 'fastify'
import type { RequestProblemCode } from '../border/problem-codes.js'
import { callerLeft, type RequestProblem } from '../border/request-problem.js'
import { Answer } from './answer.js'
import { Connection } from './connection.js'
import type { CorsHeaders } from './cors.js'
import { headFault } from './http-rules.js'
import { OpenRequests } from './open-requests.js'
import { bareProblem, NO_SNIFFING } from './problems.js'
import { RequestDurations } from './request-durations.js'
import { REQUEST_ID } from './request-ids.js'
import { type QueueOptions, RequestQueue } from './request-queue.js'
import { isExemptFromRequestTimeout } from './request-timeout-exemption.js'

declare module 'fastify' {
  interface FastifyInstance {
    /** `GET /readyz` answers 503 from now on; everything else is answered as before. */
    startDraining(): void
    /** Stops accepting connections and ends the open ones after their outstanding responses; call before close(). */
    endConnections(): Promise<void>
    /** The requests that have arrived and are not answered yet. */
    readonly openRequests: OpenRequests
  }
}

/** Paths that are answered under any load: monitoring must work when the service is overloaded. */
const NEVER_SHED = /^\/(?:livez|readyz|metrics)(?:$|\?)/

const RETRY_AFTER_S = 1

/**
 * After a refusal a connection is paused until Retry-After is over or the thread has time: a client that retries at once would keep
 * the thread busy with refusals.
 */
const PAUSE_MS = 1000 * RETRY_AFTER_S
const RESUME_EVERY_MS = 10

interface Paused {
  readonly connection: Connection
  readonly sinceMs: number
}

/** Shortest time between two log lines about shedding: a line costs more than a refusal. */
const LOG_EVERY_MS = 10_000

/** Interval at which responses that are still being sent get a timeout. */
const CHECK_EVERY_MS = 1_000

/** Longest time for which idle connections stay open while closing. */
const LINGER_MS = 1_000

/** Label of requests that match no route. */
const NO_ROUTE = '(none)'

/** Makes the `close` listener of responses: records the duration and logs the request. */
function measurer(durations: RequestDurations, owed: Set<Answer>, openRequests: OpenRequests) {
  return function measure(this: Answer): void {
    owed.delete(this)
    const { request, place } = this
    if (place !== undefined) openRequests.done(place)
    const durationMs = performance.now() - this.arrivedMs
    const route = request?.routeOptions.url ?? NO_ROUTE
    const { method = '' } = this.req
    const status = this.writableFinished ? this.statusCode : 'aborted'
    durations.record(route, method, status, durationMs / 1000)
    request?.log.info({ method, route, status, durationMs: Number(durationMs.toFixed(3)) }, 'request')
  }
}

/** Sends a problem without the framework. */
function answerBare(
  answer: Answer,
  code: RequestProblemCode,
  detail: string,
  fields: Readonly<Record<string, string | number>>,
): void {
  const { status, headers, text } = bareProblem(code, detail, fields)
  answer.writeHead(status, headers).end(text)
}

export interface HttpConnectorOptions {
  readonly queue: QueueOptions
  readonly corsHeaders: CorsHeaders
  /** How long a client may leave a response unread. */
  readonly stallMs: number
  /** How long a request may take to arrive completely. */
  readonly requestTimeoutMs: number
}

/**
 * Accepts connections and passes their requests to the framework: sheds load at a fraction of the cost of a response, measures and
 * logs each request without a hook, times out slow readers, and closes connections gracefully.
 */
export class HttpConnector {
  readonly queue: RequestQueue<Answer>
  readonly durations = new RequestDurations()
  readonly openRequests = new OpenRequests()
  /** Number of requests refused because of overload. */
  shed = 0
  /** Whether each connection is ended after its outstanding responses. */
  private ending = false
  /** Whether the application is closing: each response is the last of its connection. */
  private closing = false
  private readonly options: HttpConnectorOptions
  private readonly connections = new Map<Socket, Connection>()
  /** Connections with the maximum number of pipelined requests. */
  private readonly full = new Set<Connection>()
  /** Responses that were started and are not finished. */
  private readonly owed = new Set<Answer>()
  private readonly measure: (this: Answer) => void
  /** Connections of the requests refused in this iteration of the event loop. */
  private readonly refused: Connection[] = []
  /** Connections paused after a refusal, longest first. */
  private readonly paused: Paused[] = []
  private resuming: NodeJS.Timeout | undefined
  private log: FastifyBaseLogger | undefined
  private sheddingLoggedMs = Number.NEGATIVE_INFINITY

  constructor(options: HttpConnectorOptions) {
    this.options = options
    this.queue = new RequestQueue(options.queue, ({ onTurn }) => onTurn!())
    this.measure = measurer(this.durations, this.owed, this.openRequests)
  }

  /** Requests that have arrived and are not completely answered. */
  get active(): number {
    return this.queue.length + this.owed.size
  }

  /** Creates the server of the application; the `serverFactory` of Fastify. */
  readonly makeServer = (answer: RequestListener, options: Record<string, unknown>): Server => {
    const server = createServer(
      { ...(options.http as object), ServerResponse: Answer },
      (request, response) => this.take(answer, request, response as Answer),
    )
    server.on('connection', (socket: Socket) => this.connect(socket))
    // After a parse error or CONNECT, the parser must not receive more bytes.
    server.on('clientError', ({ code }: NodeJS.ErrnoException, socket: Socket) => {
      const connection = this.connections.get(socket)
      if (connection !== undefined && code !== 'ERR_HTTP_REQUEST_TIMEOUT') connection.isIgnored = true
    })
    server.on('timeout', (socket) => this.endIdle(socket))
    server.keepAliveTimeout = options.keepAliveTimeout as number
    server.requestTimeout = options.requestTimeout as number
    // No limit on their number: Node would silently drop the headers beyond it. Their size is limited.
    server.maxHeadersCount = 0
    return server
  }

  /** Register before every other hook: a request that a hook refuses still counts for its route. */
  register(app: FastifyInstance): void {
    this.log = app.log
    this.openRequests.register(app)
    app.addHook('onRequest', (request, reply, done) => {
      if (reply.raw instanceof Answer) {
        reply.raw.request = request
        reply.raw.place = this.openRequests.take(request)
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
    const unread = setInterval(
      () => this.timeUnread(),
      Math.min(CHECK_EVERY_MS, this.options.stallMs),
    ).unref()
    app.addHook('onClose', async () => {
      clearInterval(unread)
      this.queue.close()
    })
  }

  /**
   * Stops accepting connections and ends the open ones after their outstanding responses; idle ones after LINGER_MS, so that a
   * request already on its way is not lost.
   */
  async endConnections(server: Server): Promise<void> {
    this.ending = true
    // Accept the connections in the backlog first: closing the listening socket resets them.
    await nextIteration()
    const ended = new Promise((resolve) => server.once('close', resolve))
    // close() of net.Server: that of http.Server also destroys idle connections.
    NetServer.prototype.close.call(server)
    await Promise.race([ended, wait(LINGER_MS)])
  }

  /**
   * Sets a socket timeout for responses that are still being sent, so that a client that stops reading does not hold one forever.
   * Done at an interval, since most responses are finished by then: a timeout for each would cost every request. The timeout
   * restarts whenever the client reads.
   */
  private timeUnread(): void {
    for (const answer of this.owed) {
      const { socket } = answer.req
      if (!answer.headersSent || answer.isTimed || isExemptFromRequestTimeout(socket)) continue
      answer.isTimed = true
      socket.setTimeout(this.options.stallMs)
    }
  }

  /** Makes each response the last of its connection, and closes the connections without an outstanding response. */
  private close(): void {
    this.closing = true
    const owing = new Set([...this.queue].map(({ req }) => req.socket))
    for (const answer of this.owed) {
      owing.add(answer.req.socket)
      if (!answer.headersSent) answer.setHeader('connection', 'close')
    }
    // Including connections without any request: the server counts them as busy and would wait for their timeout.
    for (const socket of this.connections.keys()) if (!owing.has(socket)) socket.destroy()
  }

  /** Ends a connection whose timeout expired; starts the timeout again if the event loop was blocked meanwhile. */
  private endIdle(socket: Socket): void {
    // Batches have timeouts of their own.
    if (isExemptFromRequestTimeout(socket)) return
    const { timeout = 0 } = socket
    if (this.queue.wasBlockedWithin(timeout)) socket.setTimeout(timeout)
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

  /** CORS headers of a response that is written directly to the socket, for the origin of the last request. */
  readonly corsHeadersOn = (socket: Socket): Record<string, string> =>
    this.options.corsHeaders(this.connections.get(socket)?.origin)

  /** The outstanding response to a complete request of a connection, or the response that the connection ends with. */
  readonly owedOn = (socket: Socket): Answer | undefined => {
    const { last, isDone = false } = this.connections.get(socket) ?? {}
    const owed = last?.req.complete === true && !last.writableFinished
    return owed || isDone ? last : undefined
  }

  /**
   * Calls back if the overdue request of a connection is still incomplete after the socket has been polled again. If the event loop was
   * blocked or the connection paused meanwhile, the request first gets its whole timeout again.
   */
  readonly whenLate = (socket: Socket, act: () => void): void => {
    const connection = this.connections.get(socket)
    if (connection === undefined) return
    const expected = connection.complete + 1
    const { requestTimeoutMs } = this.options
    const check = () => {
      if (socket.destroyed || connection.complete >= expected) return
      if (connection.isPaused || this.queue.wasBlockedWithin(requestTimeoutMs))
        setTimeout(checkAfterPoll, requestTimeoutMs).unref()
      else act()
    }
    // Timers fire before the event loop polls its sockets.
    const checkAfterPoll = () => setImmediate(check)
    checkAfterPoll()
  }

  private take(handle: RequestListener, request: IncomingMessage, answer: Answer): void {
    const { socket } = request
    const connection = this.connections.get(socket)
    // The rest of a chunk that was read before the connection was closed or done with.
    if (connection === undefined || connection.isDone || socket.destroyed) return
    const { origin } = request.headers
    if (origin !== undefined) connection.origin = origin
    if (this.queue.isFull(connection.address) && !NEVER_SHED.test(request.url ?? '')) {
      this.refuse(connection, answer)
      return
    }
    answer.on('close', this.measure)
    const fault = headFault(request)
    if (fault !== undefined) {
      connection.isDone = true
      connection.last = answer
      answerBare(answer, 'malformed-http', fault, { ...this.corsHeadersOn(socket), connection: 'close' })
      return
    }
    answer.onTurn = () => this.begin(handle, request, answer)
    connection.receive(answer, () => this.queue.add(connection.address, answer))
  }

  private owe(answer: Answer): void {
    this.owed.add(answer)
    if (this.closing) answer.setHeader('connection', 'close')
  }

  private begin(handle: RequestListener, request: IncomingMessage, answer: Answer): void {
    // The client has disconnected, or an earlier response ended the connection (RFC 9112, 9.6).
    if (request.socket.destroyed || request.socket.writableEnded) return
    this.owe(answer)
    if (!this.ending || this.closing) {
      handle(request, answer)
      return
    }
    // In the next iteration all requests of the same chunk are known: only the last one gets `connection: close`.
    setImmediate(() => {
      if (this.connections.get(request.socket)?.last === answer) answer.setHeader('connection', 'close')
      handle(request, answer)
    })
  }

  /** Queues a request again whose body arrived after its turn: the bodies of many may have been completed at the same moment. */
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
    if (answer.arrivedMs - this.sheddingLoggedMs > LOG_EVERY_MS) {
      this.sheddingLoggedMs = answer.arrivedMs
      this.log?.warn(
        { shed: this.shed, utilization: this.queue.utilization },
        'refusing requests: overloaded',
      )
    }
    const detail = `More requests came than can be answered in time; ask again in ${RETRY_AFTER_S} s.`
    const fields = { ...this.options.corsHeaders(answer.req.headers.origin), 'retry-after': RETRY_AFTER_S }
    answerBare(answer, 'overloaded', detail, fields)
    this.refused.push(connection)
    // Pause in the next iteration: draining the rest of the request would resume reading.
    if (this.refused.length === 1) setImmediate(this.pauseRefused)
  }

  private readonly pauseRefused = (): void => {
    const sinceMs = performance.now()
    for (const connection of this.refused.splice(0)) {
      connection.pause('refused')
      this.paused.push({ connection, sinceMs })
    }
    this.resuming ??= setInterval(this.resumePaused, RESUME_EVERY_MS).unref()
  }

  private readonly resumePaused = (): void => {
    const nowMs = performance.now()
    const room = this.queue.room()
    const firstToStay = this.paused.findIndex(({ sinceMs }, n) => n >= room && nowMs - sinceMs < PAUSE_MS)
    const due = this.paused.splice(0, firstToStay < 0 ? this.paused.length : firstToStay)
    for (const { connection } of due) connection.resume('refused')
    if (this.paused.length > 0) return
    clearInterval(this.resuming)
    this.resuming = undefined
  }
}
