import { connect, type Socket } from 'node:net'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { beforeAll, expect, test } from 'vitest'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'
import { aVehicle } from '../support/vehicles.js'
import { firstStart, type Server } from './support/server.js'

const IDLE = 1000
const SLOW = 100
const ASKED = 50

beforeAll(build, 120_000)

const GET = 'GET /v1/tires?size=165R13 HTTP/1.1\r\nHost: x\r\n\r\n'

const open = (server: Server) =>
  new Promise<Socket>((resolve, reject) => {
    const socket = connect({ host: '127.0.0.1', port: Number(new URL(server.address).port) })
    socket.once('connect', () => resolve(socket))
    socket.once('error', reject)
  })

/** Asks on an open connection; the status of the answer. */
async function askOn(socket: Socket): Promise<string> {
  socket.write(GET)
  return new Promise((resolve) => {
    const take = (chunk: Buffer) => {
      const status = /^HTTP\/1\.1 (\d{3})/.exec(chunk.toString('latin1'))?.[1]
      if (status === undefined) return
      socket.off('data', take)
      resolve(status)
    }
    socket.on('data', take)
  })
}

/**
 * Asks for checks and writes, one after another; the middle of the times that the checks took [ms]. A write waits for the disk,
 * which may be ten times slower a second later whoever is connected.
 */
async function middleMs(server: Server, key: string): Promise<number> {
  const times: number[] = []
  for (let n = 0; n < ASKED; n++) {
    const startMs = performance.now()
    const check = await server.ask(undefined, 'POST', '/v1/vehicle-checks', aVehicle())
    times.push(performance.now() - startMs)
    expect(check.status, check.text).toBe(200)
    const write = await server.ask(key, 'POST', '/v1/vehicles', aVehicle())
    expect(write.status, write.text).toBe(201)
  }
  return times.toSorted((a, b) => a - b)[times.length >> 1]!
}

test(`${IDLE} idle connections, ${SLOW} that read nothing and ${SLOW} that write slowly keep nobody from being served`, async () => {
  // A thousand at the same moment are more than a busy machine answers soon: here they are to be answered, not refused.
  const { server, key } = await firstStart({
    file: join(tempFolder(), 'club.sqlite'),
    environment: { SHED_AFTER_MS: '0' },
  })
  await middleMs(server, key)
  const alone = await middleMs(server, key)

  const idle = await Promise.all(Array.from({ length: IDLE }, () => open(server)))
  expect(new Set(await Promise.all(idle.map(askOn)))).toEqual(new Set(['200']))
  const readers = await Promise.all(Array.from({ length: SLOW }, () => open(server)))
  for (const socket of readers) {
    socket.pause()
    socket.write('GET /openapi.json HTTP/1.1\r\nHost: x\r\n\r\n'.repeat(3))
  }
  const writers = await Promise.all(Array.from({ length: SLOW }, () => open(server)))
  for (const socket of writers) {
    socket.on('error', () => undefined)
    socket.write(
      'POST /v1/vehicle-checks HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 5000\r\n\r\n{',
    )
  }
  const drip = setInterval(() => {
    for (const socket of writers) socket.write(' ')
  }, 100)
  await wait(300)

  const among = await middleMs(server, key)
  clearInterval(drip)
  // Those that were idle all the while are still served.
  expect(new Set(await Promise.all(idle.map(askOn)))).toEqual(new Set(['200']))
  expect(among / alone).toBeLessThan(5)
  console.log(`latency among them: ${(among / alone).toFixed(1)} times that alone`)
  for (const socket of [...idle, ...readers, ...writers]) socket.destroy()
}, 180_000)
