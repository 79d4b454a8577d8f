import { buildApp } from '../../src/app.js'
import { readConfig } from '../../src/config.js'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import type { Role, Store } from '../../src/db/store.js'

/** An application of its own for one test, on an empty store in memory, with default settings unless told otherwise. */
export async function testApp(environment: Record<string, string> = {}) {
  return (await testAppWithStore(environment)).app
}

export async function testAppWithStore(
  environment: Record<string, string> = {},
  clock = Date.now,
  file = ':memory:',
) {
  // No rate limits: a test is one address. Those that are about limits set them.
  const settings = { RATE_PER_ADDRESS: '0', RATE_PER_KEY: '0', ...environment }
  const store = openSqliteStore({ file, clock })
  const app = await buildApp({ config: readConfig(settings), store, clock })
  app.addHook('onClose', () => store.close())
  return { app, store }
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

export interface Answer {
  readonly status: number
  readonly headers: Record<string, string>
  readonly text: string
  /** The answer's JSON, as loosely as a test reads it. */
  // biome-ignore lint/suspicious/noExplicitAny: tests look into any answer
  readonly body: any
}

/** Sends requests with one key. */
export type Client = (
  method: 'GET' | 'POST' | 'PUT' | 'PATCH' | 'DELETE',
  url: string,
  body?: unknown,
  headers?: Record<string, string>,
) => Promise<Answer>

export function clientOf(app: TestApp, secret: string | undefined): Client {
  return async (method, url, body, headers = {}) => {
    const response = await app.inject({
      method,
      url,
      headers: {
        ...(secret === undefined ? {} : { authorization: `Bearer ${secret}` }),
        ...(body === undefined
          ? {}
          : { 'content-type': method === 'PATCH' ? 'application/merge-patch+json' : 'application/json' }),
        ...headers,
      },
      ...(body === undefined
        ? {}
        : { payload: typeof body === 'string' || Buffer.isBuffer(body) ? body : JSON.stringify(body) }),
    })
    return {
      status: response.statusCode,
      headers: response.headers as Record<string, string>,
      text: response.body,
      body:
        response.body === '' || !/[/+]json/.test(String(response.headers['content-type']))
          ? undefined
          : response.json(),
    }
  }
}

/** A key of an account, which is made when it is not there; the requests of that key. */
export async function keyOf(store: Store, account: string, role: Role = 'editor') {
  await store.accounts.create('test', account)
  const issued = await store.keys.create('test', { account, label: `${account} ${role}`, role })
  return issued!
}

/** A client with a key of its own, by account and role. */
export async function newClient(app: TestApp, store: Store, account: string, role: Role = 'editor') {
  return clientOf(app, (await keyOf(store, account, role)).secret)
}

/** Sends requests with one key, through a socket. */
export function socketClientOf(address: string, secret: string): Client {
  return async (method, url, body, headers = {}) => {
    const response = await fetch(address + url, {
      method,
      headers: {
        authorization: `Bearer ${secret}`,
        ...(body === undefined
          ? {}
          : { 'content-type': method === 'PATCH' ? 'application/merge-patch+json' : 'application/json' }),
        ...headers,
      },
      ...(body === undefined ? {} : { body: typeof body === 'string' ? body : JSON.stringify(body) }),
    })
    const text = await response.text()
    return {
      status: response.status,
      headers: Object.fromEntries(response.headers),
      text,
      body: text === '' ? undefined : JSON.parse(text),
    }
  }
}
