import { buildApp } from '../src/app.js'
import { readConfig } from '../src/config.js'
import { openSqliteStore } from '../src/db/sqlite/sqlite-store.js'

/** A calculation that needs no key. */
export interface Calculation {
  readonly operationId: string
  readonly url: string
  readonly mediaType: string
}

/** The application on an empty in-memory store, without rate limits: one caller sends every request. */
export async function worstApp() {
  const store = openSqliteStore({ file: ':memory:', clock: Date.now })
  const config = readConfig({ RATE_PER_ADDRESS: '0', RATE_PER_KEY: '0' })
  const app = await buildApp({ config, store, clock: Date.now })
  app.addHook('onClose', () => store.close())
  const ask = async ({ url, mediaType }: Calculation, body: unknown): Promise<number> => {
    const payload = typeof body === 'string' ? body : JSON.stringify(body)
    const { statusCode } = await app.inject({
      method: 'POST',
      url,
      headers: { 'content-type': mediaType },
      payload,
    })
    return statusCode
  }
  return { app, ask }
}
