import { connect, type Socket } from 'node:net'
import { setTimeout as wait } from 'node:timers/promises'
import { describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { statuses } from '../support/overload.js'
import { Connection, portOf } from '../support/raw.js'

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

  // Found 2026-11: the parser resumed the socket after each message, so that 64 KiB were read for every 8 answers: a client that went on sending
  // and read its answers took 340 MiB in five seconds.
  test('are read no faster than they are answered, from a client that goes on sending', async () => {
    const app = await testApp({})
    let sent: Socket | undefined
    app.server.once('connection', (socket: Socket) => {
      sent = socket
    })
    const get = 'GET /livez HTTP/1.1\r\nHost: x\r\n\r\n'
    const client = connect(await portOf(app), '127.0.0.1')
    const flood = get.repeat(20_000)
    client.write(flood)
    let answers = 0
    let rest = ''
    let maxUnanswered = 0
    client.on('data', (chunk: Buffer) => {
      const parts = (rest + chunk.toString('latin1')).split('"alive":true')
      answers += parts.length - 1
      rest = parts.at(-1)!
      maxUnanswered = Math.max(maxUnanswered, sent!.bytesRead - answers * get.length)
    })
    while (answers < 20_000) await wait(5)
    // What is read at once and not parsed, what Node reads ahead, and the answers on their way. It was all that was sent: 620,000 bytes.
    expect(maxUnanswered).toBeLessThan(4 * 65_536)
    client.destroy()
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
