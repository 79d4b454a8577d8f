import { promisify } from 'node:util'
import { gzip } from 'node:zlib'
import type { FastifyReply, FastifyRequest } from 'fastify'
import { quality } from '../http/accept.js'
import { bytesTag, hasAnswer } from '../http/etags.js'
import { varyBy } from '../http/vary.js'

const compressed = promisify(gzip)

interface Representation {
  readonly body: Buffer
  readonly etag: string
}

const representationOf = (body: Buffer): Representation => ({ body, etag: bytesTag(body) })

/**
 * Makes the handler of a response that is the same for every caller and does not change while the service runs: made once, at the first
 * request; with an entity tag (304 if the client has it), and compressed for clients that accept gzip.
 *
 * @see RFC 9110, 8.8.3.3 (each coding has a strong tag of its own)
 */
export function staticResponse(
  mediaType: string,
  make: () => Buffer | Promise<Buffer>,
  headers: Readonly<Record<string, string>> = {},
) {
  async function makeBoth(): Promise<{ readonly plain: Representation; readonly zipped: Representation }> {
    const body = await make()
    return { plain: representationOf(body), zipped: representationOf(await compressed(body)) }
  }
  // The promise is kept, not its result: hundreds of first requests at once wait for one.
  let made: ReturnType<typeof makeBoth> | undefined
  return async (request: FastifyRequest, reply: FastifyReply) => {
    made ??= makeBoth().catch((error: unknown) => {
      made = undefined
      throw error
    })
    const { plain, zipped } = await made
    const isZipped = quality(request.headers['accept-encoding'] ?? '', 'gzip') > 0
    const { body, etag } = isZipped ? zipped : plain
    // Revalidated on each use: a page and its script must be of the same release.
    varyBy(reply, 'accept-encoding').headers({ etag, 'cache-control': 'no-cache', ...headers })
    if (hasAnswer(request.headers, etag)) return reply.code(304).send()
    if (isZipped) reply.header('content-encoding', 'gzip')
    return reply.type(mediaType).send(body)
  }
}
