import { createServer, type IncomingMessage, type RequestListener, type Server } from 'node:http'
import type { Socket } from 'node:net'
import type { FastifyInstance } from 'fastify'
import { callerLeft, type RequestProblem } from '../http/request-problem.js'
import { Answer } from './answer.js'
import type { CorsHeaders } from './cors.js'
import { Draining } from './draining.js'
import { headFault } from './http-rules.js'
import { LoadShedding } from './load-shedding.js'
import { OpenAnswers } from './open-answers.js'
import { OpenConnections } from './open-connections.js'
import type { OpenRequests } from './open-requests.js'
import { COMMON_HEADERS, sendBareProblem } from './problems.js'
import { REQUEST_ID } from './request-ids.js'
import { type QueueOptions, RequestQueue } from './request-queue.js'
import { endIdle, timeUnread, whenLate } from './socket-timeouts.js'

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

/** Bytes that Node reads ahead on each connection, and again for each body. Its default of 64 KiB takes 100 MiB more for a thousand half-sent bodies. */
const READ_AHEAD_BYTES = 16_384

export interface HttpConnectorOptions {
  readonly queue: QueueOptions
  readonly corsHeaders: CorsHeaders
  /** How long a client may leave a response unread. */
  readonly stallMs: number
  /** How long a request may take to arrive completely. */
  readonly requestTimeoutMs: number
}

/** Accepts connections, queues their requests, and passes each to the framework when it is its turn. */
export class HttpConnector {
  readonly queue: RequestQueue<Answer>
  readonly shedding: LoadShedding
  readonly connections: OpenConnections
  readonly answers = new OpenAnswers()
  readonly draining: Draining
  private readonly options: HttpConnectorOptions

  constructor(options: HttpConnectorOptions) {
    this.options = options
    this.queue = new RequestQueue(options.queue, ({ onTurn }) => onTurn!())
    this.shedding = new LoadShedding(this.queue, options.corsHeaders)
    this.connections = new OpenConnections(options.corsHeaders)
    this.draining = new Draining(this.connections, this.answers)
  }

  /** Requests that have arrived and are not completely answered. */
  get active(): number {
    return this.queue.length + this.answers.size
  }

  /** Creates the server of the application; the `serverFactory` of Fastify. */
  readonly makeServer = (handle: RequestListener, options: Record<string, unknown>): Server => {
    const server = createServer(
      { ...(options.http as object), ServerResponse: Answer, highWaterMark: READ_AHEAD_BYTES },
      (request, response) => this.take(handle, request, response as Answer),
    )
    server.on('connection', (socket: Socket) => this.connect(socket))
    // After a parse error or CONNECT, the parser must not receive more bytes.
    server.on('clientError', ({ code }: NodeJS.ErrnoException, socket: Socket) => {
      const connection = this.connections.of(socket)
      if (connection !== undefined && code !== 'ERR_HTTP_REQUEST_TIMEOUT') connection.isIgnored = true
    })
    server.on('timeout', (socket) => endIdle(socket, this.queue.wasBlockedWithin))
    server.keepAliveTimeout = options.keepAliveTimeout as number
    server.requestTimeout = options.requestTimeout as number
    // No limit on their number: Node would silently drop the headers beyond it. Their size is limited.
    server.maxHeadersCount = 0
    return server
  }

  /** Register before every other hook: a request that a hook refuses still counts for its route. */
  register(app: FastifyInstance): void {
    this.shedding.log = app.log
    const { requests } = this.answers
    requests.register(app)
    app.addHook('onRequest', (request, reply, done) => {
      if (reply.raw instanceof Answer) {
        reply.raw.request = request
        reply.raw.place = requests.take(request)
      }
      reply.header(REQUEST_ID, request.id).headers(COMMON_HEADERS)
      done()
    })
    app.addHook('preValidation', ({ raw }, { raw: answer }, done) => {
      if (!(answer instanceof Answer) || this.queue.isTurnOf(answer)) done()
      else this.takeAgain(raw.socket, answer, done)
    })
    app.addHook('preClose', (done) => {
      this.draining.close(this.queue)
      done()
    })
    const unread = timeUnread(this.answers, this.options.stallMs)
    app.addHook('onClose', async () => {
      clearInterval(unread)
      this.queue.close()
    })
  }

  /** Calls back if an overdue request is still incomplete after the socket has been polled again. */
  readonly whenLate = (socket: Socket, act: () => void): void => {
    const { requestTimeoutMs } = this.options
    const { wasBlockedWithin } = this.queue
    whenLate(socket, { connections: this.connections, wasBlockedWithin, requestTimeoutMs }, act)
  }

  private connect(socket: Socket): void {
    if (this.draining.isClosing) socket.destroy()
    else this.connections.add(socket)
  }

  private take(handle: RequestListener, request: IncomingMessage, answer: Answer): void {
    const { socket } = request
    const connection = this.connections.of(socket)
    // The rest of a chunk that was read before the connection was closed or done with.
    if (connection === undefined || connection.isDone || socket.destroyed) return
    const { origin } = request.headers
    if (origin !== undefined) connection.origin = origin
    if (this.shedding.isDue(connection.address, request.url)) {
      this.shedding.refuse(connection, answer)
      return
    }
    this.answers.watch(answer)
    const fault = headFault(request)
    if (fault !== undefined) {
      connection.isDone = true
      connection.last = answer
      const headers = { ...this.connections.corsHeadersOn(socket), connection: 'close' }
      sendBareProblem(answer, 'malformed-http', fault, headers)
      return
    }
    answer.onTurn = () => this.begin(handle, request, answer)
    connection.receive(answer, () => this.queue.add(connection.address, answer))
  }

  private begin(handle: RequestListener, request: IncomingMessage, answer: Answer): void {
    // The client has disconnected, or an earlier response ended the connection (RFC 9112, 9.6).
    if (request.socket.destroyed || request.socket.writableEnded) return
    this.start(answer)
    this.draining.whenLastIsKnown(answer, () => handle(request, answer))
  }

  private start(answer: Answer): void {
    this.answers.start(answer)
    this.draining.endAfter(answer)
  }

  /** Queues a request again whose body arrived after its turn: the bodies of many may have been completed at the same moment. */
  private takeAgain(socket: Socket, answer: Answer, done: (problem?: RequestProblem) => void): void {
    const connection = this.connections.of(socket)
    if (connection === undefined) {
      done(callerLeft())
      return
    }
    this.answers.suspend(answer)
    answer.onTurn = () => {
      if (socket.destroyed) done(callerLeft())
      else {
        this.start(answer)
        done()
      }
    }
    this.queue.add(connection.address, answer)
  }
}
