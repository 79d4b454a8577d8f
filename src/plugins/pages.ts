import { readdirSync } from 'node:fs'
import { readFile } from 'node:fs/promises'
import { createRequire } from 'node:module'
import { dirname, extname, join } from 'node:path'
import type { FastifyInstance } from 'fastify'
import { programFile } from './program-files.js'
import { staticResponse } from './static-response.js'

const MEDIA_TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.svg': 'image/svg+xml',
}

/** Same origin only, nothing inline. `data:` images, since the style sheet of the reference contains some. */
const POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' data:",
  "connect-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
].join('; ')

/** Files of the interactive reference, read at the first request, so that the start does not wait for them. */
const REFERENCE_FOLDER = join(
  dirname(createRequire(import.meta.url).resolve('@fastify/swagger-ui/package.json')),
  'static',
)
const REFERENCE_FILES = ['swagger-ui.css', 'swagger-ui-bundle.js']

/** Pages of `ancestors` may show the response in a frame. */
const headers = (ancestors: readonly string[] | '*') => ({
  'content-security-policy': `${POLICY}; frame-ancestors ${[ancestors].flat().join(' ') || "'none'"}`,
  'referrer-policy': 'no-referrer',
})

const fileResponse = (file: string, frameAncestors: readonly string[] | '*' = []) =>
  staticResponse(MEDIA_TYPES[extname(file)]!, () => readFile(file), headers(frameAncestors))

/**
 * Serves the browser pages. They are not in the OpenAPI document, which is for programs.
 *
 * @param frameAncestors - Origins whose pages may show `/embed` in a frame; no page may show another in one.
 */
export function servePages(app: FastifyInstance, frameAncestors: readonly string[] | '*'): void {
  const folder = dirname(programFile('pages/index.html'))
  const get = (url: string, file: string) => app.get(url, { schema: { hide: true } }, fileResponse(file))
  app.get('/embed', { schema: { hide: true } }, fileResponse(join(folder, 'embed.html'), frameAncestors))
  get('/', join(folder, 'index.html'))
  get('/reference', join(folder, 'reference.html'))
  for (const name of readdirSync(folder)) {
    if (extname(name) !== '.html' && extname(name) in MEDIA_TYPES) get(`/pages/${name}`, join(folder, name))
  }
  for (const name of REFERENCE_FILES) get(`/pages/${name}`, join(REFERENCE_FOLDER, name))
}
