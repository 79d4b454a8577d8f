import { setImmediate as eventLoopTurn, setTimeout as wait } from 'node:timers/promises'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { expectProblem } from '../support/problem.js'
import { Connection, portOf } from '../support/raw.js'
import { aVehicle } from '../support/vehicles.js'

// Found 2026-11: whatever a client sent while one long computation ran had come in time, but nobody had read it: as the thread came back its
// timers fired first, and the client got 408, `stalled`, or was hung up on.

const app = await testApp({ REQUEST_TIMEOUT_MS: '1500', HEADERS_TIMEOUT_MS: '700', BATCH_STALL_MS: '700' })
let port: number
beforeAll(async () => {
  port = await portOf(app)
})
afterAll(() => app.close())

/**
 * Sends a text and keeps the thread busy, as a long computation does, after the loop has looked at its sockets and before it looks at its
 * timers: the text is in a socket of the service all the while.
 */
async function sendInto(silenceMs: number, connection: Connection, text: string): Promise<void> {
  await eventLoopTurn()
  connection.write(text)
  const endMs = performance.now() + silenceMs
  while (performance.now() < endMs);
}

const BODY = '{"tire":{"size":"165R15"}}'
const HEAD = `POST /v1/tires/geometry HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: ${BODY.length}\r\n`

test.each([
  ['a body', `${HEAD}\r\n{`, BODY.slice(1)],
  ['headers', 'GET /v1/units HTTP/1.1\r\nHo', 'st: x\r\n\r\n'],
])('%s that came while the service was silent is taken, and answered', async (_name, first, rest) => {
  const connection = new Connection(port)
  connection.write(first)
  await wait(300)
  await sendInto(2500, connection, rest)
  await connection.until('\r\n\r\n')
  expect(connection.answer().statusCode, connection.received).toBe(200)
  connection.close()
})

test('a line of a batch that arrived while the event loop was blocked is answered, and so is the next', async () => {
  const connection = new Connection(port)
  const line = `${JSON.stringify(aVehicle())}\n`
  const chunk = `${line.length.toString(16)}\r\n${line}\r\n`
  connection.write(
    `POST /v1/vehicle-checks/batch/ndjson HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\nTransfer-Encoding: chunked\r\n\r\n${chunk}`,
  )
  await connection.until('"line":1')
  await sendInto(2000, connection, chunk)
  await connection.until('"line":2')
  connection.write(`${chunk}0\r\n\r\n`)
  await connection.ended
  expect(connection.received).toContain('"line":3')
  expect(connection.received).toContain('"complete":true')
  connection.close()
})

test('a client that sends nothing after the event loop was blocked gets the whole timeout again, then a 408', async () => {
  const connection = new Connection(port)
  connection.write(`${HEAD}\r\n{`)
  await wait(300)
  await sendInto(2500, connection, '')
  await connection.ended
  expectProblem(connection.answer(), 408, 'request-timeout')
  connection.close()
})
