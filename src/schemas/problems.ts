import { type TProperties, Type } from '@sinclair/typebox'
import { listOf, ref, shape } from './named-shapes.js'
import { choice } from './plain-values.js'

export const FieldError = shape('FieldError', 'One fault of a request.', {
  in: choice(['body', 'query', 'path', 'header'], { description: 'Which part of the request.' }),
  pointer: Type.String({
    description:
      'The field, as a JSON Pointer in a URI fragment: #/tire/size in a body, #/size in a query, #/if-match in the headers, #/2/kind for line 2 and column kind of a table.',
  }),
  code: Type.String({
    description:
      'What is wrong with it, for programs: for example missing, unknown-field, wrong-type, out-of-bounds, or the code of the problem.',
  }),
  detail: Type.String({ description: 'What is wrong and what to give instead.' }),
  line: Type.Optional(
    Type.Integer({
      description: 'Line of the table, counted from 1; only for tables.',
      'x-dimensionless': true,
    }),
  ),
  column: Type.Optional(Type.String({ description: 'Column of the table; only for tables.' })),
  value: Type.Optional(Type.String({ description: 'Content of that cell, shortened; only for tables.' })),
})

export const Problem = shape('Problem', 'Problem details (RFC 9457).', {
  type: Type.String({
    description: 'URL of the description of this kind of problem, relative to the service.',
  }),
  title: Type.String({ description: 'The kind of problem, in words.' }),
  status: Type.Integer({ description: 'HTTP status.', 'x-dimensionless': true }),
  code: Type.String({ description: 'The kind of problem, for programs; last part of type.' }),
  detail: Type.String({ description: 'What happened here and how to correct it.' }),
  requestId: Type.String({
    description: 'Id of the request, also in the log of the service: quote it when you report a fault.',
  }),
  errors: Type.Optional(listOf(FieldError, 50, 'The faulty fields.')),
})

/** The content of an error response. */
const problemContent = { 'application/problem+json': { schema: ref(Problem) } }

const RETRY_AFTER = {
  'retry-after': Type.String({
    pattern: '^[1-9][0-9]*$',
    description: 'Seconds to wait before the next try.',
  }),
}
const CURRENT = {
  etag: Type.String({ pattern: '^"[1-9][0-9]*"$', description: 'The stored version.' }),
}

interface ErrorResponse {
  /** Name of the component of the contract. */
  readonly name: string
  readonly description: string
  readonly headers?: TProperties
}

/** Error responses that operations give, by status: names as in RFC 9110, section 15, and RFC 6585. */
export const ERROR_RESPONSES = {
  400: { name: 'BadRequest', description: 'The request does not match its schema, or its body is not JSON.' },
  401: {
    name: 'Unauthorized',
    description: 'A key is needed and none was sent, or the key that was sent is not valid.',
    headers: {
      'www-authenticate': Type.String({
        pattern: '^Bearer ',
        description: 'How to give a key (RFC 6750), and what is wrong with the one given.',
      }),
    },
  },
  403: {
    name: 'Forbidden',
    description: 'The role of the key does not allow this, or another account recorded the item.',
    headers: {
      'www-authenticate': Type.String({
        pattern: '^Bearer .*insufficient_scope',
        description: 'Sent when a key of a higher role is needed (RFC 6750).',
      }),
    },
  },
  404: { name: 'NotFound', description: 'No such item, or it belongs to another account.' },
  406: { name: 'NotAcceptable', description: 'Not available in any media type of Accept.' },
  409: {
    name: 'Conflict',
    description: 'In conflict with a stored item, or with a request still in progress.',
    headers: RETRY_AFTER,
  },
  412: {
    name: 'PreconditionFailed',
    description: 'The stored version is not the one that If-Match or If-None-Match asks for.',
    headers: CURRENT,
  },
  413: { name: 'ContentTooLarge', description: 'The body is too large.' },
  415: {
    name: 'UnsupportedMediaType',
    description: 'Media type, charset or encoding of the body not supported.',
    headers: {
      'accept-patch': Type.String({
        pattern: '^[a-z]+/[a-z+-]+$',
        description: 'Media type that a PATCH takes (RFC 5789, 3.1); sent to a PATCH only.',
      }),
    },
  },
  422: {
    name: 'UnprocessableContent',
    description: 'Well formed, but impossible or not computable; code says why.',
  },
  428: { name: 'PreconditionRequired', description: 'If-Match is required.', headers: CURRENT },
  429: {
    name: 'TooManyRequests',
    description: 'Too many requests; Retry-After says when to try again.',
    headers: RETRY_AFTER,
  },
  500: { name: 'InternalServerError', description: 'Internal error of the service.' },
  503: {
    name: 'ServiceUnavailable',
    description: 'Service overloaded, stopping or not ready; Retry-After says when to try again.',
    headers: RETRY_AFTER,
  },
} as const satisfies Record<number, ErrorResponse>

export type ErrorStatus = keyof typeof ERROR_RESPONSES

/**
 * Error responses of an operation, by status.
 *
 * A route names only those that do not follow from what it is; the others are added in `plugins/error-responses.ts`.
 */
export const problems = (...statuses: ErrorStatus[]) =>
  Object.fromEntries(
    statuses.map((status) => {
      const { name: _, ...response } = ERROR_RESPONSES[status]
      return [status, { ...response, content: problemContent }]
    }),
  )
