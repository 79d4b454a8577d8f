import { setTimeout as wait } from 'node:timers/promises'
import { describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { expectProblem } from '../support/problem.js'
import { Connection, portOf } from '../support/raw.js'

/** Keeps the thread busy, as a long computation does. */
function burn(ms: number): void {
  const endMs = performance.now() + ms
  while (performance.now() < endMs);
}

/** An application with a route that costs 10 ms of the thread. */
async function dearApp(environment: Record<string, string>) {
  const app = await testApp(environment)
  app.get('/dear', () => {
    burn(10)
    return 'done'
  })
  return { app, port: await portOf(app) }
}

const statuses = (received: string) =>
  [...received.matchAll(/HTTP\/1\.1 (\d{3})/g)].map(([, status]) => status)

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

/** A continuous load: each connection sends its next request as soon as it is answered. */
function keepAsking(port: number, connections: number) {
  const clients = Array.from({ length: connections }, () => new Connection(port))
  let going = true
  const asking = clients.map(async (client) => {
    for (let n = 1; going; n++) {
      client.write('GET /dear HTTP/1.1\r\nHost: x\r\n\r\n')
      while (statuses(client.received).length < n) await wait(1)
    }
  })
  return {
    answered: () => clients.reduce((sum, { received }) => sum + statuses(received).length, 0),
    stop: async () => {
      going = false
      await Promise.all(asking)
      for (const client of clients) client.close()
    },
  }
}

// Found 2026-11: requests whose last byte came late were computed as it came, those of all connections in one turn of the event loop, so that
// ten of 10 ms kept everyone waiting for 100 ms.
test('requests whose bodies are completed at the same moment are computed in an iteration of the event loop each', async () => {
  const app = await testApp()
  const turns: number[] = []
  let [turn, isOver] = [0, false]
  app.post('/dear', () => {
    burn(10)
    turns.push(turn)
    return 'done'
  })
  const port = await portOf(app)
  const clients = Array.from({ length: 10 }, () => new Connection(port))
  for (const client of clients)
    client.write(
      'POST /dear HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 2\r\n\r\n{',
    )
  await wait(100)
  const count = () => {
    turn++
    if (!isOver) setImmediate(count)
  }
  setImmediate(count)
  for (const client of clients) client.write('}')
  for (const client of clients) while (statuses(client.received).length === 0) await wait(1)
  isOver = true
  expect(clients.map(({ received }) => statuses(received))).toEqual(Array(10).fill(['200']))
  expect(new Set(turns).size).toBe(10)
  for (const client of clients) client.close()
  await app.close()
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

test('new callers are accepted while many others are served', async () => {
  const { app, port } = await dearApp({ SHED_AFTER_MS: '0' })
  const crowd = keepAsking(port, 40)
  while (crowd.answered() < 40) await wait(1)
  const before = crowd.answered()
  const late = Array.from({ length: 10 }, () => new Connection(port))
  for (const one of late) one.write('GET /livez HTTP/1.1\r\nHost: x\r\n\r\n')
  await Promise.all(late.map((one) => one.until('200 OK')))
  // They wait for the crowd once, about 40 answers, not once each.
  expect(crowd.answered() - before).toBeLessThan(200)
  await crowd.stop()
  for (const one of late) one.close()
  await app.close()
})

describe('pipelined requests', () => {
  /** An application with an answer that is held until it is released, and what was asked of it. */
  async function heldApp() {
    const app = await testApp({ METRICS: 'open' })
    const begun: string[] = []
    let release = () => {}
    const held = new Promise<void>((resolve) => {
      release = resolve
    })
    app.get('/held/:name', async ({ params }) => {
      begun.push((params as { name: string }).name)
      await held
      return 'done'
    })
    const active = async () => {
      // What is injected does not come through the server, and is not counted.
      const { body } = await app.inject('/metrics')
      return Number(/^http_server_active_requests (\d+)$/m.exec(body)?.[1])
    }
    const client = new Connection(await portOf(app))
    const ask = (...names: string[]) =>
      client.write(names.map((name) => `GET /held/${name} HTTP/1.1\r\nHost: x\r\n\r\n`).join(''))
    return { app, begun, release: () => release(), active, client, ask }
  }

  test('are started one after the other, each when the previous one is answered', async () => {
    const { app, begun, release, active, client, ask } = await heldApp()
    ask('a', 'b', 'c')
    while (begun.length < 1) await wait(1)
    await wait(50)
    expect([begun, await active()]).toEqual([['a'], 1])
    release()
    while (statuses(client.received).length < 3) await wait(1)
    expect(begun).toEqual(['a', 'b', 'c'])
    expect(statuses(client.received)).toEqual(['200', '200', '200'])
    client.close()
    await app.close()
  })

  // Found 2026-11: all that came were read at once and held, however many.
  test('are read only up to the maximum that may wait, and all are answered in order', async () => {
    const app = await testApp({ METRICS: 'open' })
    let turn = () => {}
    let came = 0
    app.server.on('request', () => came++)
    const asked: string[] = []
    app.get('/one/:name', async ({ params }) => {
      asked.push((params as { name: string }).name)
      if (asked.length === 1)
        await new Promise<void>((resolve) => {
          turn = resolve
        })
      return 'done'
    })
    const client = new Connection(await portOf(app))
    const names = Array.from({ length: 3000 }, (_, n) => String(n))
    client.write(names.map((name) => `GET /one/${name} HTTP/1.1\r\nHost: x\r\n\r\n`).join(''))
    while (asked.length < 1) await wait(1)
    await wait(100)
    // Sixteen wait behind the first, and as many more as stand in the last KiB that was read.
    expect(came).toBeLessThan(17 + 1024 / 30)
    turn()
    while (asked.length < 3000) await wait(10)
    expect(asked).toEqual(names)
    while (statuses(client.received).length < 3000) await wait(10)
    expect(came).toBe(3000)
    client.close()
    await app.close()
  })

  test('with bodies longer than one chunk are all answered', async () => {
    const app = await testApp()
    app.post('/length', { bodyLimit: 400_000 }, ({ body }) => ({ length: (body as string).length }))
    const client = new Connection(await portOf(app))
    const lengths = Array.from({ length: 40 }, (_, n) => (n * 7919) % 200_000)
    for (const length of lengths)
      client.write(
        `POST /length HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: ${length + 2}\r\n\r\n"${'a'.repeat(length)}"`,
      )
    while (statuses(client.received).length < lengths.length) await wait(10)
    const answers = [...client.received.matchAll(/\{"length":(\d+)\}/g)].map(([, length]) => Number(length))
    expect(answers).toEqual(lengths)
    client.close()
    await app.close()
  })

  test('are not started if the connection is closed meanwhile, and the first is released', async () => {
    const { app, begun, release, active, client, ask } = await heldApp()
    ask('a', 'b')
    while (begun.length < 1) await wait(1)
    client.close()
    while ((await active()) > 0) await wait(1)
    release()
    await wait(50)
    expect(begun).toEqual(['a'])
    await app.close()
  })

  test('are not started after an answer that ends the connection', async () => {
    const { app, begun, client, ask } = await heldApp()
    client.write(
      'POST /v1/tires/geometry HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 1\r\n\r\n{',
    )
    ask('a')
    await client.ended
    expect(statuses(client.received)).toEqual(['400'])
    expect(client.received).toMatch(/^connection: close\r$/im)
    await wait(50)
    expect(begun).toEqual([])
    await app.close()
  })
})
