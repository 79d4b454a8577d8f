import { type TSchema, Type } from '@sinclair/typebox'
import { ref } from './named-shapes.js'
import { count } from './plain-values.js'
import { form } from './texts.js'

/** `security` of every operation that needs a key; the access plugin enforces what stands here. */
export const KEY_NEEDED = [{ key: [] }]

// May be empty: a slash at the end is an address at which nothing is, not a fault of the request.
export const IdInPath = Type.String({
  maxLength: 100,
  description: 'Id given by the service (UUID).',
})

export const Id = Type.String({ description: 'Id given by the service (UUID).' })
export const Version = Type.Integer({
  description: 'Version: 1 when created, one more after each change. The ETag is the version in quotes.',
  'x-dimensionless': true,
})
export const Instant = (what: string) =>
  Type.String({ format: 'date-time', description: `${what}, UTC (RFC 3339).` })

/** Query of a list that comes in pages, beside its filters. */
export const PAGE_QUERY = {
  limit: Type.Optional(
    count({ minimum: 1, maximum: 200, default: 50, description: 'Maximum number of items in the page.' }),
  ),
  cursor: Type.Optional(
    Type.String({
      minLength: 1,
      maxLength: 500,
      description:
        'next from the answer with the page before; repeat the same filters. Left out: the first page.',
    }),
  ),
}

export const Next = Type.Optional(
  Type.String({ description: 'Cursor of the next page; absent on the last page.' }),
)

const tags = (description: string) => Type.Optional(Type.String({ maxLength: 1000, description }))

/** Headers of a change: on which version it is made. */
export const ChangeHeaders = Type.Object({
  'if-match': tags(
    'ETag of the version that you read and changed, for example "3" with its quotes, or * for any version. Required: 428 without it, 412 if another version is stored.',
  ),
})

/** Headers of a put that creates or replaces. */
export const PutHeaders = Type.Object({
  'if-match': tags(
    'ETag of the version to replace, or * for any version. Required if another profile is stored under this reference.',
  ),
  'if-none-match': tags('* only creates: 412 if the reference exists.'),
})

/** Headers of a read. */
export const ReadHeaders = Type.Object({
  'if-none-match': tags('ETag that you have: the answer is 304, without a body, if it is still current.'),
})

/** Headers of a POST that makes something. */
export const CreateHeaders = Type.Object({
  'idempotency-key': Type.Optional(
    Type.String({
      minLength: 1,
      maxLength: 200,
      pattern: form('^[\\x21-\\x7e]+$', 'ASCII letters, digits and signs, without spaces'),
      description:
        'Chosen by the caller for this request, for example a UUID. If the same request comes again with it within 24 hours, the first answer is repeated and nothing is done twice.',
    }),
  ),
})

export const ETAG = Type.String({
  pattern: '^"[1-9][0-9]*"$',
  description: 'The version in quotes, for If-Match and If-None-Match.',
})

const content = (shape: TSchema) => ({ 'application/json': { schema: ref(shape) } })

/** The answer that shows a stored thing, its version in ETag. */
export const shown = (shape: TSchema, description: string) => ({
  description,
  headers: { etag: ETAG },
  content: content(shape),
})

/** The answer to what made a stored thing. */
export const made = (shape: TSchema, description: string) => ({
  description,
  headers: {
    etag: ETAG,
    location: Type.String({ pattern: '^/v1/', description: 'URL of the new item.' }),
  },
  content: content(shape),
})

/** The answer to a read of what the caller has already. */
export const UNCHANGED = {
  type: 'null',
  description: 'Not modified: the ETag in If-None-Match is current.',
  headers: { etag: ETAG },
}

/** The answer to a deletion. */
export const gone = (description: string) => ({ type: 'null', description })
