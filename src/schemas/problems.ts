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

const WORDS: Readonly<Record<number, string>> = {
  400: 'The request does not fit its schema, or is not JSON.',
  401: 'No valid key was given.',
  403: 'The key may not do this.',
  404: 'There is no such thing, or it belongs to another account.',
  406: 'Not available in the media type asked for.',
  409: 'In conflict with what is stored or in flight.',
  412: 'Changed since it was read: If-Match does not hold.',
  413: 'The body is too large.',
  415: 'The body has a media type, charset or encoding that is not taken here.',
  422: 'Well formed but impossible, or not computable; the code says why.',
  428: 'If-Match is required.',
  429: 'Too many requests.',
  500: 'The service failed.',
  503: 'The service cannot answer now.',
}

const RETRY_AFTER = {
  'retry-after': Type.String({ pattern: '^[1-9][0-9]*$', description: 'Seconds after which to ask again.' }),
}
const CURRENT = {
  etag: Type.String({ pattern: '^"[1-9][0-9]*"$', description: 'The version that is there now.' }),
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
