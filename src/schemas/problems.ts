import { type TProperties, Type } from '@sinclair/typebox'
import { choice, named, ref } from './measures.js'

export const FieldError = named(
  'FieldError',
  Type.Object(
    {
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
    },
    { additionalProperties: false, description: 'One fault of a request.' },
  ),
)

export const Problem = named(
  'Problem',
  Type.Object(
    {
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
      errors: Type.Optional(Type.Array(ref(FieldError), { maxItems: 50, description: 'The faulty fields.' })),
    },
    { additionalProperties: false, description: 'Problem details (RFC 9457).' },
  ),
)

/** The content of an error response. */
const problemContent = { 'application/problem+json': { schema: ref(Problem) } }

const WORDS: Readonly<Record<number, string>> = {
  400: 'The request does not match its schema, or its body is not JSON.',
  401: 'A key is needed and none was sent, or the key that was sent is not valid.',
  403: 'The role of the key does not allow this, or another account recorded the item.',
  404: 'No such item, or it belongs to another account.',
  406: 'Not available in any media type of Accept.',
  409: 'In conflict with a stored item, or with a request still in progress.',
  412: 'The stored version is not the one that If-Match or If-None-Match asks for.',
  413: 'The body is too large.',
  415: 'Media type, charset or encoding of the body not supported.',
  422: 'Well formed, but impossible or not computable; code says why.',
  428: 'If-Match is required.',
  429: 'Too many requests; Retry-After says when to try again.',
  500: 'Internal error of the service.',
  503: 'Service overloaded, stopping or not ready; Retry-After says when to try again.',
}

const RETRY_AFTER = {
  'retry-after': Type.String({
    pattern: '^[1-9][0-9]*$',
    description: 'Seconds to wait before the next try.',
  }),
}
const CURRENT = {
  etag: Type.String({ pattern: '^"[1-9][0-9]*"$', description: 'The stored version.' }),
}

/** Headers that go with a status. */
const HEADERS: Readonly<Record<number, TProperties>> = {
  401: {
    'www-authenticate': Type.String({
      pattern: '^Bearer ',
      description: 'How to give a key (RFC 6750), and what is wrong with the one given.',
    }),
  },
  403: {
    'www-authenticate': Type.String({
      pattern: '^Bearer .*insufficient_scope',
      description: 'Sent when a key of a higher role is needed (RFC 6750).',
    }),
  },
  409: RETRY_AFTER,
  412: CURRENT,
  428: CURRENT,
  429: RETRY_AFTER,
  503: RETRY_AFTER,
}

/** What any address but a probe may answer: a parameter too many, a key that is not valid, too many requests, a failure of ours. */
const ANYWHERE = [400, 401, 429, 500]

/** Error responses of an operation that looks at no key and has no rate, by status. */
export function problemsOfProbe(...statuses: number[]) {
  return Object.fromEntries(
    statuses.map((status) => [
      status,
      {
        description: WORDS[status] ?? '',
        ...(HEADERS[status] === undefined ? {} : { headers: HEADERS[status] }),
        content: problemContent,
      },
    ]),
  )
}

/** Error responses of an operation, by status, those that any may give among them. */
export const problems = (...statuses: number[]) => problemsOfProbe(...ANYWHERE, ...statuses)

/** Error responses of every calculation that takes a body. */
export const calculationProblems = () => problems(400, 413, 415, 422)
