import { readdirSync } from 'node:fs'
import { readFile } from 'node:fs/promises'
import { extname, join } from 'node:path'
import type { FastifyInstance } from 'fastify'
import { operationsOf } from '../reference/document.js'
import { indexPage, operationPage } from '../reference/pages.js'
import { PROGRAM_FOLDER } from '../version.js'
import { readDocument } from './openapi.js'
import { staticResponse } from './static-response.js'

const MEDIA_TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.txt': 'text/plain; charset=utf-8',
}

/** Same origin only, nothing inline. */
const POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self'",
  "connect-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
].join('; ')

/** Pages of `ancestors` may show the response in a frame. */
const headers = (ancestors: readonly string[] | '*') => ({
  'content-security-policy': `${POLICY}; frame-ancestors ${[ancestors].flat().join(' ') || "'none'"}`,
  'referrer-policy': 'no-referrer',
})

const fileResponse = (file: string, frameAncestors: readonly string[] | '*' = []) =>
  staticResponse(MEDIA_TYPES[extname(file)]!, () => readFile(file), headers(frameAncestors))

const htmlResponse = (make: () => Buffer | Promise<Buffer>) =>
  staticResponse(MEDIA_TYPES['.html']!, make, headers([]))

/** Serves the index of the reference and a page for each operation; each is made at its first request. */
function serveReference(app: FastifyInstance): void {
  app.get(
    '/reference',
    { schema: { hide: true } },
    htmlResponse(async () => indexPage(await readDocument())),
  )
  let pages: ReadonlyMap<string, ReturnType<typeof htmlResponse>> | undefined
  app.get<{ Params: { operationId: string } }>(
    '/reference/:operationId',
    { schema: { hide: true } },
    async (request, reply) => {
      const document = await readDocument()
      pages ??= new Map(
        operationsOf(document).map((operation) => [
          operation.operationId,
          htmlResponse(() => operationPage(operation, document)),
        ]),
      )
      const page = pages.get(request.params.operationId)
      return page === undefined ? reply.callNotFound() : page(request, reply)
    },
  )
}

/**
 * Serves the browser pages. They are not in the OpenAPI document, which is for programs.
 *
 * @param frameAncestors - Origins whose pages may show `/embed` in a frame; no page may show another in one.
 */
export function servePages(app: FastifyInstance, frameAncestors: readonly string[] | '*'): void {
  const folder = join(PROGRAM_FOLDER, 'pages')
  const get = (url: string, file: string) => app.get(url, { schema: { hide: true } }, fileResponse(file))
  app.get('/embed', { schema: { hide: true } }, fileResponse(join(folder, 'embed.html'), frameAncestors))
  get('/', join(folder, 'index.html'))
  // Written by the build.
  get('/notices', join(PROGRAM_FOLDER, 'dist', 'start', 'notices.txt'))
  serveReference(app)
  for (const name of readdirSync(folder)) {
    if (extname(name) !== '.html' && extname(name) in MEDIA_TYPES) get(`/pages/${name}`, join(folder, name))
  }
}
