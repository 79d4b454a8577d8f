import { setTimeout as wait } from 'node:timers/promises'
import { expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { expectProblem } from '../support/problem.js'
import { Connection, exchange, portOf } from '../support/raw.js'

const MEBIBYTE = 2 ** 20

/** The head of a log, and half of its body: spaces, which JSON passes over. */
const half = (bytes: number) =>
  `POST /v1/signals/log-analysis HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: ${2 * bytes}\r\n\r\n${' '.repeat(bytes)}`

const BODY = '{"tire":{"size":"165R15"}}'
const WHOLE = `POST /v1/tires/geometry HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nConnection: close\r\nContent-Length: ${BODY.length}\r\n\r\n${BODY}`

// Found 2026-11: sixty halves of 16 MiB took 700 MB: nothing bounded them but their number.
test.each([
  ['of one caller', { BODIES_BYTES_PER_CALLER: String(8 * MEBIBYTE) }],
  ['of all callers', { BODIES_BYTES: String(8 * MEBIBYTE) }],
])(
  'of the bodies %s that are coming, those that hold the most for the longest are refused',
  async (whose, limit) => {
    const app = await testApp(limit)
    const port = await portOf(app)
    const halves: Connection[] = []
    for (let n = 0; n < 12; n++) {
      const connection = new Connection(port)
      connection.write(half(MEBIBYTE))
      halves.push(connection)
      await wait(50)
    }
    // 1 MiB each and what its pieces take: seven stay within 8 MiB.
    const refused = () => halves.filter(({ received }) => received !== '')
    while (refused().length < 5) await wait(10)
    // A small body is taken beside them.
    expect((await exchange(port, WHOLE)).answer().statusCode).toBe(200)
    expect(refused()).toHaveLength(5)
    for (const connection of refused()) {
      const answer = connection.answer()
      expect(expectProblem(answer, 503, 'overloaded').detail).toContain(whose)
      expect([answer.headers['retry-after'], answer.headers.connection]).toEqual(['5', 'close'])
    }
    for (const connection of halves) connection.close()
    await app.close()
  },
)

test('an answered request no longer counts', async () => {
  const app = await testApp({ BODIES_BYTES_PER_CALLER: String(MEBIBYTE) })
  const payload = `${' '.repeat(500_000)}{"points":[{"lat":48,"lon":11},{"lat":48.1,"lon":11}]}`
  const headers = { 'content-type': 'application/json' }
  for (let n = 0; n < 5; n++) {
    const answer = await app.inject({ method: 'POST', url: '/v1/odometers/track', headers, payload })
    expect(answer.statusCode).toBe(200)
  }
  await app.close()
})

// Found 2026-11: whoever had as many large bodies computed as may be sent more megabytes that were read before they were refused, over and over: 290 MiB.
test('a body that has no room beside those that have come whole is refused before it is read', async () => {
  const app = await testApp({ BODIES_BYTES_PER_CALLER: String(MEBIBYTE) })
  let answer: () => void = () => undefined
  const answered = new Promise<void>((resolve) => {
    answer = resolve
  })
  app.post('/slow', async () => {
    await answered
    return 'done'
  })
  const port = await portOf(app)
  const head = (bytes: number) =>
    `POST /slow HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: ${bytes}\r\n\r\n`
  const first = new Connection(port)
  first.write(`${head(600_000)}"${'x'.repeat(599_998)}"`)
  await wait(200)
  const second = new Connection(port)
  second.write(head(600_000))
  await second.ended
  expectProblem(second.answer(), 503, 'overloaded')
  // What has room is read.
  expect((await exchange(port, WHOLE)).answer().statusCode).toBe(200)
  answer()
  await first.until('HTTP/1.1 200')
  for (const connection of [first, second]) connection.close()
  await app.close()
})
