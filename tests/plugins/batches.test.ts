import { once } from 'node:events'
import type { ServerResponse } from 'node:http'
import { setTimeout as wait } from 'node:timers/promises'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type TestApp, testApp } from '../support/app.js'
import { expectProblem } from '../support/problem.js'
import { Connection, portOf } from '../support/raw.js'
import { aVehicle } from '../support/vehicles.js'

const LINE = `${JSON.stringify({ vehicle: aVehicle() })}\n`

/** A batch that is sent bit by bit, on a connection of its own. */
class BatchConnection extends Connection {
  constructor(port: number) {
    super(port)
    const head = [
      'POST /v1/vehicle-checks/batch/ndjson HTTP/1.1',
      'Host: x',
      'Content-Type: application/x-ndjson',
    ]
    this.write([...head, 'Connection: close', 'Transfer-Encoding: chunked', '', ''].join('\r\n'))
  }

  /** Sends a part of the body; false when the socket asks to wait. */
  send(text: string): boolean {
    return this.socket.write(`${Buffer.byteLength(text).toString(16)}\r\n${text}\r\n`)
  }

  finish(): void {
    this.write('0\r\n\r\n')
  }

  /** The lines that have come whole. */
  lines() {
    const [, ...parts] = this.received.split('\r\n\r\n')
    const body = parts.join('\r\n\r\n').replaceAll(/(^|\r\n)[0-9a-f]+\r\n/g, '')
    return body
      .split('\n')
      .filter((line) => line.startsWith('{') && line.endsWith('}'))
      .map((line) => JSON.parse(line))
  }

  async summary() {
    await this.until('"summary"')
    await this.ended
    return this.lines().at(-1).summary
  }
}

// The timeouts are short so that the tests are; nothing here asserts how long anything took.
const app = await testApp({
  REQUEST_TIMEOUT_MS: '1000',
  HEADERS_TIMEOUT_MS: '1000',
  BATCH_STALL_MS: '1500',
  BATCH_LINES: '2000',
  BATCHES_PER_CALLER: '1',
})
let response: ServerResponse
const chunks: Buffer[] = []
app.addHook('onRequest', async (request, reply) => {
  response = reply.raw
  const push = request.raw.push.bind(request.raw)
  request.raw.push = (chunk: Buffer | null) => {
    if (chunk !== null) chunks.push(chunk)
    return push(chunk)
  }
})
let port: number
beforeAll(async () => {
  port = await portOf(app)
})
afterAll(() => app.close())

/** The whole of a small batch; tells, too, that no other one is running. */
async function small(on = port) {
  const connection = new BatchConnection(on)
  connection.send(LINE)
  connection.finish()
  await connection.ended
  return connection
}

describe('a batch streams', () => {
  test('a line is answered before the next one is sent', async () => {
    const connection = new BatchConnection(port)
    for (let line = 1; line <= 3; line++) {
      connection.send(LINE)
      await connection.until(`"line":${line},`)
    }
    connection.finish()
    expect(await connection.summary()).toEqual({ lines: 3, blank: 0, ok: 3, failed: 0, complete: true })
  })

  test('and each piece of the body is given back once it is answered, however the network cut it', async () => {
    chunks.length = 0
    const connection = new BatchConnection(port)
    // Two pieces in one go, which the parser makes two chunks of.
    const [start, rest] = [LINE.slice(0, 40), LINE.slice(40)]
    const framed = [LINE + start, rest].map((text) => `${text.length.toString(16)}\r\n${text}\r\n`)
    connection.write(framed.join(''))
    connection.finish()
    expect(await connection.summary()).toMatchObject({ ok: 2, complete: true })
    expect(chunks.length).toBeGreaterThanOrEqual(2)
    // Else 64 MiB of them come together in a long batch: V8 takes what waited for two collections for something that stays.
    expect(chunks.map(({ buffer }) => buffer.byteLength)).toEqual(chunks.map(() => 0))
  })

  test('and the connection is closed after it, so that closing the service need not wait for it', async () => {
    expect((await small()).received).toMatch(/^HTTP\/1\.1 200 OK\r\n(.+\r\n)*connection: close\r\n/i)
  })
})

describe('a slow client', () => {
  test('that sends line by line may take longer than the request timeout', async () => {
    const connection = new BatchConnection(port)
    for (let line = 0; line < 8; line++) {
      connection.send(LINE)
      await wait(300)
    }
    connection.finish()
    expect(await connection.summary()).toMatchObject({ lines: 8, complete: true })
  })

  const stalls: ReadonlyArray<readonly [string, string]> = [
    ['sends no more', ''],
    ['sends a line byte by byte', 'x'],
    ['sends blank lines', '\n'],
  ]
  for (const [name, drip] of stalls) {
    test(`that ${name} gets a summary of what was answered and that it stalled`, async () => {
      const connection = new BatchConnection(port)
      connection.send(LINE)
      const dripping = setInterval(() => drip !== '' && connection.send(drip), 100)
      const summary = await connection.summary()
      clearInterval(dripping)
      expect(summary).toMatchObject({ ok: 1, failed: 0, complete: false, reason: 'stalled' })
      expect(summary.lines).toBe(1 + summary.blank)
      connection.close()
    })
  }

  test('with its headers gets a 408 as on every address', async () => {
    const connection = new Connection(port)
    connection.write('POST /v1/vehicle-checks/batch/ndjson HTTP/1.1\r\nHost: x\r\n')
    await connection.ended
    expectProblem(connection.answer(), 408, 'request-timeout')
    connection.close()
  })
})

describe('a client that sends without reading', () => {
  test('gets backpressure, costs no memory, and is disconnected', async () => {
    const connection = new BatchConnection(port)
    connection.socket.pause()
    const gone = new Promise((resolve) => connection.socket.once('close', resolve))
    // 45 MB to read and 20 MB to answer: more than the buffers of both sockets take.
    const line = `${LINE.trimEnd().padEnd(30_000)}\n`
    let sent = 0
    for (; sent < 1500 && !connection.socket.destroyed; sent++) {
      if (!connection.send(line)) await Promise.race([once(connection.socket, 'drain').catch(() => {}), gone])
    }
    expect(sent).toBeLessThan(1500)
    expect(response.writableLength).toBeLessThan(1_000_000)
    expect(response.destroyed).toBe(true)
    connection.close()
    expect((await small()).lines()).toHaveLength(2)
  })
})

describe('a client that disconnects', () => {
  test('in the middle ends its batch', async () => {
    const connection = new BatchConnection(port)
    connection.send(LINE)
    await connection.until('"line":1,')
    const ended = once(response, 'close')
    connection.send(LINE.repeat(1000))
    connection.close()
    await ended
    expect((await small()).lines()).toHaveLength(2)
  })

  test('before anything is answered ends its batch', async () => {
    const before = response
    const connection = new BatchConnection(port)
    while (response === before) await wait(10)
    const ended = once(response, 'close')
    connection.close()
    await ended
    expect((await small()).lines()).toHaveLength(2)
  })
})

describe('limits', () => {
  test('a client over the limit gets the summary although it is still sending', async () => {
    const connection = new BatchConnection(port)
    for (let i = 0; i < 21; i++) connection.send('{}\n'.repeat(100))
    const sending = setInterval(() => connection.send('{}\n'), 50)
    const summary = await connection.summary()
    clearInterval(sending)
    expect(summary).toEqual({
      lines: 2000,
      blank: 0,
      ok: 0,
      failed: 2000,
      complete: false,
      reason: 'too-many-lines',
    })
    connection.close()
  })

  test('one caller may have so many batches at once, then gets a 429', async () => {
    const first = new BatchConnection(port)
    first.send(LINE)
    await first.until('"line":1,')
    const refused = await small()
    expectProblem(refused.answer(), 429, 'rate-limited')
    expect(refused.answer().headers['retry-after']).toBe('5')
    first.finish()
    await first.ended
    expect((await small()).lines()).toHaveLength(2)
  })

  test('all callers together may have so many, then get a 503; a batch may take so long', async () => {
    const other = await testApp({ BATCHES: '1', BATCH_TIME_MS: '1500' })
    const otherPort = await portOf(other)
    const first = new BatchConnection(otherPort)
    first.send(LINE)
    await first.until('"line":1,')
    expectProblem((await small(otherPort)).answer(), 503, 'unavailable')
    const sending = setInterval(() => first.send(LINE), 100)
    const summary = await first.summary()
    clearInterval(sending)
    expect(summary).toMatchObject({ complete: false, reason: 'out-of-time' })
    first.close()
    expect((await small(otherPort)).lines()).toHaveLength(2)
    await other.close()
  })
})

describe('when the service is being stopped', () => {
  /** Far above what closing takes, far below what the batches would. */
  const SECONDS_MS = 20_000
  const within = (closing: Promise<unknown>) =>
    Promise.race([closing.then(() => 'closed'), wait(SECONDS_MS, 'still open', { ref: false })])

  async function running(to: TestApp) {
    const connection = new BatchConnection(await portOf(to))
    connection.send(LINE)
    await connection.until('"line":1,')
    return connection
  }

  test('a batch ends with a summary that says so', async () => {
    const other = await testApp()
    const connection = await running(other)
    const closed = within(other.close())
    expect(await connection.summary()).toEqual({
      lines: 1,
      blank: 0,
      ok: 1,
      failed: 0,
      complete: false,
      reason: 'closing',
    })
    connection.close()
    expect(await closed).toBe('closed')
  })

  test('the stop does not wait for a caller who does not read', async () => {
    const other = await testApp()
    const connection = await running(other)
    connection.socket.pause()
    for (let i = 0; i < 30; i++) connection.send(LINE.repeat(100))
    await wait(1000)
    expect(await within(other.close())).toBe('closed')
    connection.close()
  })
})
