// Prints one line for each example request of the contract that needs no key, in each media type of its answer: the status and a
// hash of the answer. `npm run test:runtimes` compares what different versions of Node print.
import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { buildApp } from '../src/app.js'
import { readConfig } from '../src/config.js'
import { openSqliteStore } from '../src/db/sqlite/sqlite-store.js'
import {
  bodyExamples,
  type OpenApiDocument,
  type Operation,
  operationsOf,
  parameterExample,
} from './operations.js'

const NOW_MS = Date.UTC(2026, 10, 30)
const clock = () => NOW_MS

const contract: OpenApiDocument = JSON.parse(
  readFileSync(join(import.meta.dirname, '../../openapi/openapi.json'), 'utf8'),
)

interface Body {
  readonly type: string
  readonly text: string
}

const textOf = (example: unknown) => (typeof example === 'string' ? example : JSON.stringify(example))

function bodiesOf({ spec }: Operation): Array<Body | undefined> {
  if (spec.requestBody === undefined) return [undefined]
  return Object.entries(spec.requestBody.content).flatMap(([type, media]) =>
    bodyExamples(media, contract).map((example) => ({ type, text: textOf(example) })),
  )
}

function urlOf({ path, spec }: Operation): string {
  const query = new URLSearchParams()
  for (const parameter of spec.parameters ?? []) {
    const example = parameter.in === 'query' ? parameterExample(parameter) : undefined
    if (example !== undefined) query.set(parameter.name, String(example))
  }
  return query.size === 0 ? path : `${path}?${query}`
}

const store = openSqliteStore({ file: ':memory:', clock })
const config = readConfig({ RATE_PER_ADDRESS: '0', SHED_AFTER_MS: '0' })
const app = await buildApp({ config, store, clock })
const isOpen = ({ path, spec }: Operation) =>
  spec.security === undefined && path.startsWith('/v1/') && !path.includes('{')
for (const operation of operationsOf(contract).filter(isOpen)) {
  const { method, spec } = operation
  for (const accept of Object.keys(spec.responses['200']?.content ?? {})) {
    for (const [i, body] of bodiesOf(operation).entries()) {
      const { statusCode, rawPayload } = await app.inject({
        method,
        url: urlOf(operation),
        // An answer that is a problem contains it.
        headers: {
          accept,
          'x-request-id': spec.operationId,
          ...(body === undefined ? {} : { 'content-type': body.type }),
        },
        ...(body === undefined ? {} : { payload: body.text }),
      })
      const digest = createHash('sha256').update(rawPayload).digest('hex')
      console.log(`${spec.operationId} ${i} ${body?.type ?? ''} ${accept}: ${statusCode} ${digest}`)
    }
  }
}
await app.close()
store.close()
