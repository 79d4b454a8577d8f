import { type TSchema, Type } from '@sinclair/typebox'
import { count, ref } from './measures.js'
import { form } from './texts.js'

/** `security` of every operation that needs a key; the access plugin enforces what stands here. */
export const KEY_NEEDED = [{ key: [] }]

// May be empty: a slash at the end is an address at which nothing is, not a fault of the request.
export const IdInPath = Type.String({
  maxLength: 100,
  description: 'Id, as the service gave it.',
})

export const Id = Type.String({ description: 'Id given by the service (UUID).' })
export const Version = Type.Integer({
  description: 'Counts the changes, from 1; ETag is the version in quotes.',
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
      description: 'next of the page before, with the same filters.',
    }),
  ),
}

export const Next = Type.Optional(
  Type.String({ description: 'Cursor of the next page; absent on the last.' }),
)

const tags = (description: string) => Type.Optional(Type.String({ maxLength: 1000, description }))

/** Headers of a change: on which version it is made. */
export const ChangeHeaders = Type.Object({
  'if-match': tags(
    'ETag of the version that the change was made on, or *. Required: 428 without it, 412 when stale.',
  ),
})

/** Headers of a put that creates or replaces. */
export const PutHeaders = Type.Object({
  'if-match': tags(
    'ETag of the version to replace, or * for whatever is there. Required where a change would be lost.',
  ),
  'if-none-match': tags('* creates only: 412 when there is one.'),
})

/** Headers of a read. */
export const ReadHeaders = Type.Object({
  'if-none-match': tags('ETag of what the caller has: 304 when it is still that.'),
})

/** Headers of a POST that makes something. */
export const CreateHeaders = Type.Object({
  'idempotency-key': Type.Optional(
    Type.String({
      minLength: 1,
      maxLength: 200,
      pattern: form('^[\\x21-\\x7e]+$', 'ASCII letters, digits and signs, without spaces'),
      description:
        'Chosen by the caller for this request, for example a UUID. Sent again within 24 hours with the same request, the first answer is given again and nothing is done twice.',
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
    location: Type.String({ pattern: '^/v1/', description: 'Where it can be read and changed.' }),
  },
  content: content(shape),
})

/** The answer to a read of what the caller has already. */
export const UNCHANGED = {
  type: 'null',
  description: 'It is still what If-None-Match names.',
  headers: { etag: ETAG },
}

/** The answer to a deletion. */
export const gone = (description: string) => ({ type: 'null', description })
