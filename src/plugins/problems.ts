import { type ServerResponse, STATUS_CODES } from 'node:http'
import type { Socket } from 'node:net'
import type { FastifyError, FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { StoreError, type StoreErrorCode } from '../db/store/errors.js'
import { DomainError, ERRORS } from '../domain/errors.js'
import { pointerFragment } from '../http/pointer.js'
import { DOMAIN_STATUS, REQUEST_PROBLEMS, type RequestProblemCode } from '../http/problem-codes.js'
import { JSON_TYPE } from '../http/raw-body.js'
import { type FieldFault, nothingAt, RequestProblem, wrongMediaType } from '../http/request-problem.js'
import { VERSION } from '../version.js'
import type { CorsHeaders } from './cors.js'
import { newRequestId, REQUEST_ID } from './request-ids.js'
import { isExemptFromRequestTimeout } from './request-timeout-exemption.js'
import { malformedUrl } from './url-decoding.js'

interface ProblemBody {
  type: string
  title: string
  status: number
  code: string
  detail: string
  requestId: string
  errors?: readonly FieldFault[]
}

const MEDIA_TYPE = 'application/problem+json'

/** On every response: which program answers (RFC 9110, 10.2.4); the browser must not guess another media type. */
export const COMMON_HEADERS = {
  server: `wheel-to-dial/${VERSION}`,
  'x-content-type-options': 'nosniff',
} as const

function body(
  code: string,
  { title, status }: { title: string; status: number },
  detail: string,
  requestId: string,
  errors?: readonly FieldFault[],
): ProblemBody {
  const problem: ProblemBody = { type: `/problems/${code}`, title, status, code, detail, requestId }
  if (errors !== undefined && errors.length > 0) problem.errors = errors
  return problem
}

const requestProblem = (
  code: RequestProblemCode,
  detail: string,
  requestId: string,
  errors?: readonly FieldFault[],
) => body(code, REQUEST_PROBLEMS[code], detail, requestId, errors)

function domainProblem(error: DomainError, requestId: string): ProblemBody {
  const { pointer } = error.context
  const faults: FieldFault[] =
    pointer === undefined
      ? []
      : [
          {
            in: error.context.in === 'query' ? 'query' : 'body',
            pointer: pointerFragment(pointer),
            code: error.code,
            detail: error.message,
          },
        ]
  return body(
    error.code,
    { title: ERRORS[error.code].title, status: DOMAIN_STATUS[error.code] },
    error.message,
    requestId,
    faults,
  )
}

/** The media type of the bodies that an operation accepts. */
function mediaTypeOf({ routeOptions }: FastifyRequest): string {
  const { body, consumes } = (routeOptions.schema ?? {}) as {
    body?: { content?: object }
    consumes?: string[]
  }
  return consumes?.[0] ?? Object.keys(body?.content ?? {})[0] ?? JSON_TYPE
}

/** Code of the error emitted for a CONNECT request. */
const CONNECT = 'CONNECT'

/** Problems of errors that the framework throws, by their code. */
function frameworkProblem(error: FastifyError, request: FastifyRequest): ProblemBody | undefined {
  const requestId = request.id
  switch (error.code) {
    case 'FST_ERR_CTP_BODY_TOO_LARGE':
      return requestProblem(
        'body-too-large',
        `The body is larger than ${request.routeOptions.bodyLimit} bytes.`,
        requestId,
      )
    case 'FST_ERR_CTP_INVALID_MEDIA_TYPE': {
      const { code, message } = wrongMediaType(request.headers['content-type'], mediaTypeOf(request))
      return requestProblem(code, message, requestId)
    }
    case 'FST_ERR_CTP_EMPTY_JSON_BODY':
      return requestProblem('malformed-json', 'The body is empty; send a JSON object.', requestId)
    case 'FST_ERR_CTP_INVALID_CONTENT_LENGTH':
      return requestProblem('malformed-http', 'Content-Length is not the length of the body.', requestId)
    case 'FST_ERR_BAD_URL':
      return requestProblem('malformed-url', malformedUrl(request.url).message, requestId)
    case 'FST_ERR_MAX_PARAM_LENGTH':
      return requestProblem('not-found', nothingAt(request).message, requestId)
    default:
      return undefined
  }
}

/** Problems of store errors. */
const STORE_PROBLEMS: Readonly<Record<StoreErrorCode, readonly [RequestProblemCode, string]>> = {
  'stored-meanwhile': [
    'request-in-flight',
    'The first request with this Idempotency-Key was answered just now; ask again.',
  ],
  'disk-full': ['unavailable', 'There is no room on the disk of the service; nothing was changed.'],
  'disk-failed': ['unavailable', 'The disk of the service failed; nothing was changed.'],
  'outcome-unknown': [
    'unavailable',
    'The disk of the service failed in the middle of the change. Look whether it is there before you ask again, or ask again with the same Idempotency-Key.',
  ],
  'connection-lost': [
    'unavailable',
    'The connection to the store of the service broke in the middle of the change. Look whether it is there before you ask again, or ask again with the same Idempotency-Key.',
  ],
  busy: ['unavailable', 'The store of the service is busy; nothing was changed.'],
  damaged: ['unavailable', 'The store of the service is damaged; nothing was changed.'],
  held: ['unavailable', 'Another process holds the store of the service; nothing was changed.'],
  unavailable: ['unavailable', 'The store of the service cannot be used now; nothing was changed.'],
}

/** The problem details of an error. */
export function problemOf(error: unknown, request: FastifyRequest): ProblemBody {
  if (error instanceof RequestProblem)
    return requestProblem(error.code, error.message, request.id, error.errors)
  if (error instanceof StoreError) {
    const [code, detail] = STORE_PROBLEMS[error.code]
    if (code === 'unavailable') request.log.error({ err: error }, 'store unavailable')
    return requestProblem(code, detail, request.id)
  }
  if (error instanceof DomainError) return domainProblem(error, request.id)
  const framework = error instanceof Error ? frameworkProblem(error as FastifyError, request) : undefined
  if (framework !== undefined) return framework
  // The client disconnected while sending its body: nobody reads this response, and it is no fault of the service.
  if (error !== null && error === request.raw.errored) {
    request.log.info('the client left before its request was whole')
    return requestProblem('malformed-http', 'The request broke off.', request.id)
  }
  request.log.error({ err: error }, 'request failed')
  return requestProblem('internal', 'The service failed on this request; nothing was stored.', request.id)
}

function send(reply: FastifyReply, problem: ProblemBody): FastifyReply {
  // Serialized here: a failure must not depend on the schemas of the route that failed.
  return reply.code(problem.status).header('content-type', MEDIA_TYPE).send(JSON.stringify(problem))
}

/** Sends every error as problem details (RFC 9457), including those of the framework and of the socket. */
export function registerProblems(app: FastifyInstance): void {
  app.setErrorHandler((error, request, reply) => {
    if (error instanceof RequestProblem) reply.headers(error.headers)
    if (error instanceof StoreError) reply.header('retry-after', '1')
    const problem = problemOf(error, request)
    if (problem.status === 415 && request.method === 'PATCH')
      reply.header('accept-patch', mediaTypeOf(request))
    return send(reply, problem)
  })
  app.setNotFoundHandler((request, reply) => send(reply, problemOf(nothingAt(request), request)))
  // By default, Node closes the connection of a CONNECT request without a response.
  app.server.on('connect', (_request, socket) =>
    app.server.emit('clientError', Object.assign(new Error('CONNECT'), { code: CONNECT }), socket),
  )
  // An unknown expectation may be ignored (RFC 9110, 10.1.1); by default, Node sends an empty 417.
  app.server.on('checkExpectation', (request, response) => app.server.emit('request', request, response))
}

/** Sends problem details for errors before routing (a URL that cannot be decoded); the `frameworkErrors` of Fastify. */
export function frameworkErrorHandler(corsHeaders: CorsHeaders) {
  return (error: FastifyError, request: FastifyRequest, reply: FastifyReply): void => {
    // No hook runs before routing.
    reply.header(REQUEST_ID, request.id).headers(COMMON_HEADERS).headers(corsHeaders(request.headers.origin))
    const known = frameworkProblem(error, request)
    if (known === undefined) request.log.error({ err: error }, 'request failed')
    send(reply, known ?? requestProblem('internal', 'The service failed on this request.', request.id))
  }
}

/** A problem as a response that is sent without the framework. */
function bareProblem(
  code: RequestProblemCode,
  detail: string,
  fields: Readonly<Record<string, string | number>>,
) {
  const requestId = newRequestId()
  const problem = requestProblem(code, detail, requestId)
  const text = JSON.stringify(problem)
  const headers = {
    'content-type': MEDIA_TYPE,
    'content-length': Buffer.byteLength(text),
    [REQUEST_ID]: requestId,
    ...COMMON_HEADERS,
    ...fields,
  }
  return { requestId, status: problem.status, headers, text }
}

/** Sends a problem without the framework. */
export function sendBareProblem(
  response: ServerResponse,
  code: RequestProblemCode,
  detail: string,
  fields: Readonly<Record<string, string | number>>,
): void {
  const { status, headers, text } = bareProblem(code, detail, fields)
  response.writeHead(status, headers).end(text)
}

/** Problems of connections without a valid request, by the code of the error. */
const SOCKET_PROBLEMS: Readonly<
  Record<string, readonly [RequestProblemCode, string, Readonly<Record<string, string>>?]>
> = {
  ERR_HTTP_REQUEST_TIMEOUT: ['request-timeout', 'The request did not arrive whole in time.'],
  HPE_HEADER_OVERFLOW: ['headers-too-large', 'The headers are larger than 16 KiB.'],
  [CONNECT]: ['method-not-allowed', 'CONNECT is for proxies, and this is none.', { allow: '' }],
}

/** How long the client may take to read the problem and close the connection [ms]. */
const LINGER_MS = 1000

/** What the handler needs to know about connections. */
interface Connections {
  /** CORS headers for the origin of the last request. */
  corsHeadersOn(socket: Socket): Record<string, string>
  /** The outstanding response to a complete request, or the response that the connection ends with. */
  owedOn(socket: Socket): ServerResponse | undefined
}

/** Calls back if an overdue request is still incomplete after the socket has been polled again. */
type WhenLate = (socket: Socket, act: () => void) => void

/** Answers bytes that are not HTTP directly on the socket; the `clientErrorHandler` of Fastify. */
export function clientErrorHandler({ corsHeadersOn, owedOn }: Connections, whenLate: WhenLate) {
  const waiting = new WeakSet<Socket>()
  function answer(this: FastifyInstance, error: NodeJS.ErrnoException, socket: Socket): void {
    if (error.code === 'ECONNRESET' || socket.destroyed || !socket.writable) {
      socket.destroy()
      return
    }
    // After the outstanding responses, since the client would take it for one of them.
    const owed = owedOn(socket)
    if (owed !== undefined) {
      if (!waiting.has(socket))
        owed.once('finish', () => owed.shouldKeepAlive && answer.call(this, error, socket))
      waiting.add(socket)
      return
    }
    const [code, detail, more] = SOCKET_PROBLEMS[error.code ?? ''] ?? [
      'malformed-http' as const,
      'The bytes received are not an HTTP/1.1 request.',
    ]
    const { requestId, status, headers, text } = bareProblem(code, detail, {
      connection: 'close',
      ...more,
      ...corsHeadersOn(socket),
    })
    this.log.info({ requestId, status, code }, 'no request')
    const lines = Object.entries(headers).map(([name, value]) => `${name}: ${value}\r\n`)
    socket.end(`HTTP/1.1 ${status} ${STATUS_CODES[status]}\r\n${lines.join('')}\r\n${text}`)
    // Not at once: closing a socket with unread bytes resets the connection, and the response is lost.
    setTimeout(() => socket.destroy(), LINGER_MS).unref()
  }
  return function answerInTime(this: FastifyInstance, error: NodeJS.ErrnoException, socket: Socket): void {
    if (error.code !== 'ERR_HTTP_REQUEST_TIMEOUT') answer.call(this, error, socket)
    else if (!isExemptFromRequestTimeout(socket)) whenLate(socket, () => answer.call(this, error, socket))
  }
}
