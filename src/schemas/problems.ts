import { type TProperties, Type } from '@sinclair/typebox'
import { choice, named, ref } from './measures.js'

export const FieldError = named(
  'FieldError',
  Type.Object(
    {
      in: choice(['body', 'query', 'path', 'header'], { description: 'Which part of the request.' }),
      pointer: Type.String({
        description: 'The field, as a JSON Pointer in a URI fragment, for example #/tire/size.',
      }),
      code: Type.String({ description: 'What is wrong with it, for programs.' }),
      detail: Type.String({ description: 'What is wrong and what to give instead.' }),
      line: Type.Optional(
        Type.Integer({ description: 'Line of a table, the first is 1.', 'x-dimensionless': true }),
      ),
      column: Type.Optional(Type.String({ description: 'Column of a table.' })),
      value: Type.Optional(Type.String({ description: 'What stands in that cell, shortened.' })),
    },
    { additionalProperties: false, description: 'One fault of a request.' },
  ),
)

export const Problem = named(
  'Problem',
  Type.Object(
    {
      type: Type.String({ description: 'Address of the description of this kind of problem.' }),
      title: Type.String({ description: 'The kind of problem, in words.' }),
      status: Type.Integer({ description: 'HTTP status.', 'x-dimensionless': true }),
      code: Type.String({ description: 'The kind of problem, for programs; last part of type.' }),
      detail: Type.String({ description: 'What happened here and how to correct it.' }),
      requestId: Type.String({ description: 'Id of the request in the log.' }),
      errors: Type.Optional(Type.Array(ref(FieldError), { maxItems: 50, description: 'The faulty fields.' })),
    },
    { additionalProperties: false, description: 'Problem details (RFC 9457).' },
  ),
)

/** The content of an error response. */
const problemContent = { 'application/problem+json': { schema: ref(Problem) } }

const RETRY_AFTER = {
  'retry-after': Type.String({ pattern: '^[1-9][0-9]*$', description: 'Seconds after which to ask again.' }),
}
const CURRENT = {
  etag: Type.String({ pattern: '^"[1-9][0-9]*"$', description: 'The version that is there now.' }),
}

interface ErrorResponse {
  /** Name of the component of the contract. */
  readonly name: string
  readonly description: string
  readonly headers?: TProperties
}

/** Error responses that operations give, by status: names as in RFC 9110, section 15, and RFC 6585. */
export const ERROR_RESPONSES = {
  400: { name: 'BadRequest', description: 'The request does not fit its schema, or is not JSON.' },
  401: {
    name: 'Unauthorized',
    description: 'No valid key was given.',
    headers: {
      'www-authenticate': Type.String({
        pattern: '^Bearer ',
        description: 'How to give a key (RFC 6750), and what is wrong with the one given.',
      }),
    },
  },
  403: {
    name: 'Forbidden',
    description: 'The key may not do this.',
    headers: {
      'www-authenticate': Type.String({
        pattern: '^Bearer .*insufficient_scope',
        description: 'Sent when a key of a higher role is needed (RFC 6750).',
      }),
    },
  },
  404: { name: 'NotFound', description: 'There is no such thing, or it belongs to another account.' },
  406: { name: 'NotAcceptable', description: 'Not available in the media type asked for.' },
  409: {
    name: 'Conflict',
    description: 'In conflict with what is stored or in flight.',
    headers: RETRY_AFTER,
  },
  412: {
    name: 'PreconditionFailed',
    description: 'Changed since it was read: If-Match does not hold.',
    headers: CURRENT,
  },
  413: { name: 'ContentTooLarge', description: 'The body is too large.' },
  415: {
    name: 'UnsupportedMediaType',
    description: 'The body has a media type, charset or encoding that is not taken here.',
  },
  422: {
    name: 'UnprocessableContent',
    description: 'Well formed but impossible, or not computable; the code says why.',
  },
  428: { name: 'PreconditionRequired', description: 'If-Match is required.', headers: CURRENT },
  429: { name: 'TooManyRequests', description: 'Too many requests.', headers: RETRY_AFTER },
  500: { name: 'InternalServerError', description: 'The service failed.' },
  503: {
    name: 'ServiceUnavailable',
    description: 'The service cannot answer now.',
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
