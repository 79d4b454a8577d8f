import { buildApp } from '../src/app.js'
import { readConfig } from '../src/config.js'
import { openSqliteStore } from '../src/db/sqlite/sqlite-store.js'
import { type Asked, seed } from './worst-seed.js'

/** An operation with one media type of its bodies. The query of a GET request stands in place of the body. */
export interface Calculation {
  readonly operationId: string
  /** Default: POST. */
  readonly method?: 'GET' | 'POST' | 'PUT' | 'PATCH'
  /** Path; its parameters in braces are replaced by those of a stored record. */
  readonly url: string
  readonly mediaType: string
}

/** A request as it is sent. */
export function asSent({ method = 'POST', url, mediaType }: Calculation, body: unknown): Asked {
  if (method === 'GET') {
    const query = Object.entries(body as object).map(([name, value]) => [name, String(value)])
    return { method, url: query.length === 0 ? url : `${url}?${new URLSearchParams(query)}` }
  }
  return { method, url, mediaType, body: typeof body === 'string' ? body : JSON.stringify(body) }
}

/**
 * The application on an in-memory store, without rate limits: one caller sends every request.
 *
 * @param hasRecords - Whether records are stored and requests carry a key; else the store is empty and they carry none
 */
export async function worstApp(hasRecords = false) {
  const store = openSqliteStore({ file: ':memory:', clock: Date.now })
  const config = readConfig({ RATE_PER_ADDRESS: '0', RATE_PER_KEY: '0' })
  const app = await buildApp({ config, store, clock: Date.now })
  app.addHook('onClose', () => store.close())
  const key = hasRecords ? (await store.keys.createFirst('worst', 'club', 'all'))!.secret : undefined
  const send = async ({ method, url, mediaType, body }: Asked) => {
    const { statusCode, payload } = await app.inject({
      method,
      url,
      headers: {
        ...(mediaType === undefined ? {} : { 'content-type': mediaType }),
        ...(key === undefined ? {} : { authorization: `Bearer ${key}` }),
        ...(method === 'PUT' || method === 'PATCH' ? { 'if-match': '*' } : {}),
      },
      ...(body === undefined ? {} : { payload: body }),
    })
    return { status: statusCode, text: payload }
  }
  const fill = hasRecords ? await seed(send) : (url: string) => url
  const ask = async (calculation: Calculation, body: unknown): Promise<number> =>
    (await send(asSent({ ...calculation, url: fill(calculation.url) }, body))).status
  return { app, ask }
}
