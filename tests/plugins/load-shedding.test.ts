import { setTimeout as wait } from 'node:timers/promises'
import { describe, expect, test } from 'vitest'
import { dearApp, keepAsking, statuses } from '../support/overload.js'
import { expectProblem } from '../support/problem.js'
import { Connection } from '../support/raw.js'

/** Asks on many connections at once, again and again: more than the thread can do. */
async function flood(port: number, path: string, { connections = 40, rounds = 4, headers = '' } = {}) {
  const clients = Array.from({ length: connections }, () => new Connection(port))
  const ask = async (client: Connection) => {
    for (let n = 1; n <= rounds; n++) {
      client.write(`GET ${path} HTTP/1.1\r\nHost: x\r\n${headers}\r\n`)
      while (statuses(client.received).length < n) await wait(1)
    }
  }
  await Promise.all(clients.map(ask))
  for (const client of clients) client.close()
  return clients
}

describe('an overloaded service', () => {
  test('are refused with 503, Retry-After and an id; the others are answered, and refused connections stay', async () => {
    const { app, port } = await dearApp({
      SHED_AFTER_MS: '30',
      SHED_ABOVE_PERCENT: '50',
      CORS_ORIGINS: 'https://club.example',
    })
    const clients = await flood(port, '/dear', { headers: 'Origin: https://club.example\r\n' })
    const all = clients.flatMap(({ received }) => statuses(received))
    expect(new Set(all)).toEqual(new Set(['200', '503']))
    expect(all).toHaveLength(160)
    const refused = clients
      .flatMap(({ received }) => received.split(/(?=HTTP\/1\.1 )/))
      .find((answer) => answer.startsWith('HTTP/1.1 503'))!
    const connection = Object.assign(Object.create(Connection.prototype), { received: refused }) as Connection
    const answer = connection.answer()
    const problem = expectProblem(answer, 503, 'overloaded')
    expect(answer.headers['retry-after']).toBe('1')
    expect(answer.headers['x-request-id']).toBe(problem.requestId)
    expect(answer.headers['access-control-allow-origin']).toBe('https://club.example')
    await app.close()
  })

  test('do not stop monitoring requests from being answered', async () => {
    const { app, port } = await dearApp({ SHED_AFTER_MS: '30', SHED_ABOVE_PERCENT: '50', METRICS: 'open' })
    const watched: string[] = []
    let flooding = true
    const watch = async () => {
      while (flooding) {
        for (const path of ['/livez', '/readyz?', '/metrics']) {
          const answer = await fetch(`http://127.0.0.1:${port}${path}`)
          await answer.text()
          watched.push(`${path} ${answer.status}`)
        }
      }
    }
    const watching = Promise.all(Array.from({ length: 6 }, watch))
    const clients = await flood(port, '/dear')
    flooding = false
    await watching
    expect(clients.flatMap(({ received }) => statuses(received))).toContain('503')
    expect(new Set(watched)).toEqual(new Set(['/livez 200', '/readyz? 200', '/metrics 200']))
    const metrics = await (await fetch(`http://127.0.0.1:${port}/metrics`)).text()
    expect(Number(/^wheel_to_dial_requests_shed_total (\d+)$/m.exec(metrics)![1])).toBeGreaterThan(0)
    await app.close()
  })

  test('are answered all the same with SHED_AFTER_MS=0', async () => {
    const { app, port } = await dearApp({ SHED_AFTER_MS: '0' })
    const clients = await flood(port, '/dear')
    expect(new Set(clients.flatMap(({ received }) => statuses(received)))).toEqual(new Set(['200']))
    await app.close()
  })

  test('are answered when the service was idle until they came', async () => {
    const { app, port } = await dearApp({ SHED_AFTER_MS: '1' })
    await wait(1_000)
    const clients = await flood(port, '/dear', { connections: 10, rounds: 1 })
    expect(clients.map(({ received }) => statuses(received))).toEqual(Array(10).fill(['200']))
    await app.close()
  })
})

test('after a refused request with a body, the connection can be used for the next one', async () => {
  const { app, port } = await dearApp({ SHED_AFTER_MS: '30', SHED_ABOVE_PERCENT: '50' })
  const body = '{"tire":{"size":"165R15"}}'
  const post = `POST /v1/tires/geometry HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: ${body.length}\r\n\r\n${body}`
  const clients = Array.from({ length: 20 }, () => new Connection(port))
  const ask = async (client: Connection) => {
    const before = statuses(client.received).length
    client.write(post)
    while (statuses(client.received).length === before) await wait(1)
  }
  const crowd = keepAsking(port, 40)
  let refused: Connection | undefined
  while (refused === undefined) {
    await Promise.all(clients.map(ask))
    refused = clients.find(({ received }) => received.includes(' 503 '))
  }
  await crowd.stop()
  await ask(refused)
  expect(statuses(refused.received).slice(-2)).toEqual(['503', '200'])
  for (const client of clients) client.close()
  await app.close()
})

test('a refusal is sent before the answers of waiting requests, and its connection is paused until there is time', async () => {
  const { app, port } = await dearApp({ SHED_AFTER_MS: '30', SHED_ABOVE_PERCENT: '50' })
  const order: string[] = []
  const crowd = keepAsking(port, 40)
  const client = new Connection(port)
  client.socket.on('data', (chunk: Buffer) => order.push(chunk.toString().slice(9, 12)))
  let asked = 0
  const ask = () => {
    asked++
    client.write('GET /dear HTTP/1.1\r\nHost: x\r\n\r\n')
  }
  while (order.at(-1) !== '503') {
    ask()
    while (order.length < asked) await wait(1)
  }
  const answeredAtRefusal = crowd.answered()
  // Asked again against Retry-After: the crowd goes on, and nothing comes back until there is time.
  ask()
  while (order.length < asked) await wait(1)
  const answeredAtLast = crowd.answered()
  await crowd.stop()
  expect(answeredAtLast).toBeGreaterThan(answeredAtRefusal)
  client.close()
  await app.close()
})
