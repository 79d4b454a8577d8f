import { buildApp } from '../../src/app.js'
import { readConfig } from '../../src/config.js'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'

/** An application of its own for one test, on an empty store in memory, with default settings unless told otherwise. */
export async function testApp(environment: Record<string, string> = {}) {
  // No rate limits: a test is one address. Those that are about limits set them.
  const settings = { RATE_PER_ADDRESS: '0', RATE_PER_KEY: '0', ...environment }
  const store = openSqliteStore({ file: ':memory:', clock: Date.now })
  const app = await buildApp({ config: readConfig(settings), store, clock: Date.now })
  app.addHook('onClose', () => store.close())
  return app
}

export type TestApp = Awaited<ReturnType<typeof testApp>>

/** A POST of a JSON body through the whole application, without a socket. */
export async function post(app: TestApp, url: string, body: unknown) {
  const response = await app.inject({
    method: 'POST',
    url,
    headers: { 'content-type': 'application/json' },
    payload: JSON.stringify(body),
  })
  return { status: response.statusCode, body: response.json(), headers: response.headers }
}
