import { buildApp } from '../../src/app.js'
import { readConfig } from '../../src/config.js'

/** An application of its own for one test, with default settings unless told otherwise. */
export function testApp(environment: Record<string, string> = {}) {
  return buildApp({ config: readConfig(environment) })
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
