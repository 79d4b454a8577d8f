import { promisify } from 'node:util'
import { gzip } from 'node:zlib'
import type { FastifyReply, FastifyRequest } from 'fastify'
import { quality } from '../border/accept.js'
import { bytesTag, hasAnswer } from '../border/conditions.js'
import { varyBy } from '../border/vary.js'

const compressed = promisify(gzip)

interface Form {
  readonly body: Buffer
  readonly etag: string
}

const formOf = (body: Buffer): Form => ({ body, etag: bytesTag(body) })

/**
 * Makes the handler of an answer that is the same for everyone and holds as long as the service runs: made when somebody first asks, so
 * that whoever asks often holds nobody up; with an entity tag, and 304 to whoever has it; compressed for whoever takes that.
 *
 * @see RFC 9110, 8.8.3.3 (each coding has a strong tag of its own)
 */
export function staticResponse(
  mediaType: string,
  make: () => Buffer | Promise<Buffer>,
  headers: Readonly<Record<string, string>> = {},
) {
  let forms: { readonly plain: Form; readonly zipped: Form } | undefined
  return async (request: FastifyRequest, reply: FastifyReply) => {
    if (forms === undefined) {
      const body = await make()
      forms = { plain: formOf(body), zipped: formOf(await compressed(body)) }
    }
    const isZipped = quality(request.headers['accept-encoding'] ?? '', 'gzip') > 0
    const { body, etag } = isZipped ? forms.zipped : forms.plain
    // Asked for again each time, at the cost of an empty answer: a page and its script must be of one release.
    varyBy(reply, 'accept-encoding').headers({ etag, 'cache-control': 'no-cache', ...headers })
    if (hasAnswer(request.headers, etag)) return reply.code(304).send()
    if (isZipped) reply.header('content-encoding', 'gzip')
    return reply.type(mediaType).send(body)
  }
}
