import { setTimeout as wait } from 'node:timers/promises'
import { Agent, request } from 'undici'
import { expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { Connection, portOf } from '../support/raw.js'

/** Far below the keep-alive timeout of 72 s, far above the time that closing takes. */
const SECONDS_MS = 10_000

async function slowApp() {
  const app = await testApp()
  let started = () => {}
  const inFlight = new Promise<void>((resolve) => {
    started = resolve
  })
  app.get('/slow', async () => {
    started()
    await wait(500)
    return { done: true }
  })
  return { app, inFlight, port: await portOf(app) }
}

const within = <T>(work: Promise<T>) =>
  Promise.race([work.then(() => 'closed'), wait(SECONDS_MS, 'still open', { ref: false })])

test('close() ends in seconds with a kept-alive connection and a request in flight, which is answered', async () => {
  const { app, inFlight, port } = await slowApp()
  const dispatcher = new Agent({ keepAliveTimeout: 60_000, connections: 1 })
  const address = `http://127.0.0.1:${port}`
  await (await request(`${address}/v1/units`, { dispatcher })).body.dump()
  const slow = request(`${address}/slow`, { dispatcher })
  await inFlight
  const closed = within(app.close())
  const answer = await slow
  expect(answer.statusCode).toBe(200)
  expect(answer.headers.connection).toBe('close')
  expect(await answer.body.json()).toEqual({ done: true })
  expect(await closed).toBe('closed')
  await expect(request(`${address}/v1/units`, { dispatcher })).rejects.toThrow()
  await dispatcher.close()
})

test('close() does not wait for connections without a request, or with an incomplete one', async () => {
  for (const text of ['', 'GET /v1/units HTTP/1.1\r\nHo']) {
    const { app, port } = await slowApp()
    const silent = new Connection(port)
    silent.write(text)
    // Answered on another one: the first was accepted before.
    const other = new Connection(port)
    other.write('GET /v1/units HTTP/1.1\r\nHost: x\r\n\r\n')
    await other.until('dimensions')
    expect(await within(app.close()), text).toBe('closed')
    await silent.ended
    for (const one of [silent, other]) one.close()
  }
})

test('close() does not wait for idle connections', async () => {
  const { app, port } = await slowApp()
  const idle = new Connection(port)
  idle.write('GET /v1/units HTTP/1.1\r\nHost: x\r\n\r\n')
  await idle.until('dimensions')
  expect(await within(app.close())).toBe('closed')
  await idle.ended
  idle.close()
})

test('a request that follows on a busy connection while closing is answered, then the connection is closed', async () => {
  const { app, inFlight, port } = await slowApp()
  const connection = new Connection(port)
  connection.write('GET /slow HTTP/1.1\r\nHost: x\r\n\r\n')
  await inFlight
  const closed = within(app.close())
  connection.write('GET /v1/nothing HTTP/1.1\r\nHost: x\r\n\r\n')
  expect(await closed).toBe('closed')
  await connection.ended
  expect(connection.received).toContain('{"done":true}')
  // Either not read any more, or answered in the one shape: never a bare 503 of the framework.
  expect(connection.received).not.toContain('503')
  connection.close()
})

test('close() may be called twice, and before the first request', async () => {
  const app = await testApp()
  await app.close()
  await app.close()
  const listening = await testApp()
  await portOf(listening)
  await Promise.all([listening.close(), listening.close()])
})
