import { readFileSync } from 'node:fs'
import { connect, type Socket } from 'node:net'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { beforeAll, expect, test } from 'vitest'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'
import { aVehicle } from '../support/vehicles.js'
import { firstStart, type Server } from './support/server.js'

/** How long each flood lasts. */
const SECONDS = 8

/** Connections of one caller. */
const CONNECTIONS = 1000

/** Requests that are under way at once, where each is large. */
const AT_ONCE = 12

const MAX_GROWTH_MIB = 256

beforeAll(build, 120_000)

/** Largest resident memory of a process since it started [MiB]. */
const peakMib = (pid: number) =>
  Number(/^VmHWM:\s+(\d+) kB$/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))![1]) / 1024

interface Request {
  readonly method: string
  readonly path: string
  readonly mediaType?: string
  readonly body?: string
}

/** Asks over and over on some connections, and reads all answers; how many there were of each status. */
async function askAgain(server: Server, key: string, requests: readonly Request[], atOnce = AT_ONCE) {
  const statuses: Record<string, number> = {}
  const endsMs = performance.now() + 1000 * SECONDS
  const count = (status: string) => {
    statuses[status] = (statuses[status] ?? 0) + 1
  }
  const one = async (n: number) => {
    for (let round = 0; performance.now() < endsMs; round++) {
      const { method, path, mediaType, body } = requests[(n + round) % requests.length]!
      try {
        const answer = await fetch(server.address + path, {
          method,
          headers: {
            authorization: `Bearer ${key}`,
            ...(mediaType === undefined ? {} : { 'content-type': mediaType }),
          },
          ...(body === undefined ? {} : { body }),
          signal: AbortSignal.timeout(1000 * SECONDS),
        })
        await answer.body!.pipeTo(new WritableStream())
        count(String(answer.status))
        if (answer.status >= 429) await wait(50)
      } catch {
        count('cut')
        await wait(50)
      }
    }
  }
  await Promise.all(Array.from({ length: atOnce }, (_, n) => one(n)))
  return statuses
}

/** Writes the same to many connections, and leaves them open. */
async function writeToMany(server: Server, text: string, reads: boolean) {
  const sockets: Socket[] = []
  const port = Number(new URL(server.address).port)
  for (let n = 0; n < CONNECTIONS; n++) {
    const socket = connect(port, '127.0.0.1')
    socket.on('error', () => undefined)
    if (reads) socket.resume()
    socket.write(text)
    sockets.push(socket)
  }
  await wait(1000 * SECONDS)
  const open = sockets.filter(({ destroyed }) => !destroyed).length
  for (const socket of sockets) socket.destroy()
  return { 'still open': open }
}

const post = (path: string, mediaType: string, body: string): Request => ({
  method: 'POST',
  path,
  mediaType,
  body,
})

const JSON_TYPE = 'application/json'

/** As long as the service reads: periods of a ring of four on an even road. */
const log = () =>
  post(
    '/v1/signals/log-analysis',
    JSON_TYPE,
    JSON.stringify({
      periods: Array.from({ length: 1_000_000 }, (_, n) => 2500 + (n % 97)),
      unit: 'us',
      pulsesPerTurn: 4,
    }),
  )

const table = () =>
  post(
    '/v1/signals/log-analysis/csv?pulsesPerTurn=4&content=periods&unit=us',
    'text/csv',
    Array.from({ length: 1_000_000 }, (_, n) => 2500 + (n % 97)).join('\n'),
  )

const gpx = () =>
  post(
    '/v1/odometers/track/gpx',
    'application/gpx+xml',
    `<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="logger"><trk><trkseg>${Array.from(
      { length: 200_000 },
      (_, n) =>
        `<trkpt lat="${(52 + n * 1e-5).toFixed(6)}" lon="5.0"><time>${new Date(1.75e12 + 1000 * n).toISOString()}</time></trkpt>`,
    ).join('')}</trkseg></trk></gpx>`,
  )

const simulation = () =>
  post(
    '/v1/signals/simulation',
    JSON_TYPE,
    JSON.stringify({
      pulses: { perKm: 4000 },
      ring: { pulsesPerTurn: 4, rms: 0.02 },
      profile: [
        { t: { s: 0 }, speed: { kmh: 100 } },
        { t: { s: 17_900 }, speed: { kmh: 100 } },
      ],
    }),
  )

const vehicles = (count: number) =>
  Array.from({ length: count }, (_, n) => ({ ref: `row ${n}`, vehicle: aVehicle() }))

const batch = () => post('/v1/vehicle-checks/batch', JSON_TYPE, JSON.stringify({ vehicles: vehicles(1000) }))

const lines = () =>
  post(
    '/v1/vehicle-checks/batch/ndjson',
    'application/x-ndjson',
    vehicles(10_000)
      .map((line) => JSON.stringify(line))
      .join('\n'),
  )

const partsTable = () =>
  post(
    '/v1/parts/import',
    'text/csv',
    `kind,name,teeth\n${Array.from({ length: 5000 }, (_, n) => `driven-gear,Gear ${n},${12 + (n % 60)}`).join('\n')}`,
  )

type Flood = (server: Server, key: string) => Promise<Readonly<Record<string, number>>>

const FLOODS: Readonly<Record<string, Flood>> = {
  'logs in JSON': (server, key) => askAgain(server, key, [log()]),
  'logs as tables': (server, key) => askAgain(server, key, [table()]),
  'tracks as GPX': (server, key) => askAgain(server, key, [gpx()]),
  simulations: (server, key) => askAgain(server, key, [simulation()]),
  'batches in JSON': (server, key) => askAgain(server, key, [batch()]),
  'batches of lines': (server, key) => askAgain(server, key, [lines()]),
  'imports and exports of parts': (server, key) =>
    askAgain(server, key, [partsTable(), { method: 'GET', path: '/v1/parts/export' }]),
  'all large ones': (server, key) =>
    askAgain(server, key, [log(), table(), gpx(), simulation(), batch(), lines(), partsTable()]),
  'half-sent bodies': (server) =>
    writeToMany(
      server,
      `POST /v1/signals/log-analysis HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 16000000\r\n\r\n{"periods":[${'1000,'.repeat(200_000)}`,
      true,
    ),
  pipelining: (server) => writeToMany(server, 'GET /livez HTTP/1.1\r\nHost: x\r\n\r\n'.repeat(1000), true),
  'pipelining, no answer read': (server) =>
    writeToMany(server, 'GET /openapi.json HTTP/1.1\r\nHost: x\r\n\r\n'.repeat(1000), false),
}

/** One caller without rates, on a service of its own for each flood: what one leaves behind would hide the next. */
test.runIf(process.env.TORTURE === '1' && process.platform === 'linux')(
  `no flood of one caller with ${CONNECTIONS} connections takes more than ${MAX_GROWTH_MIB} MiB`,
  async () => {
    const rows: string[] = []
    const tooMuch: string[] = []
    const invalid: string[] = []
    for (const [name, flood] of Object.entries(FLOODS)) {
      const { server, key } = await firstStart({ file: join(tempFolder(), 'club.sqlite') })
      const idleMib = peakMib(server.pid)
      const got = await flood(server, key)
      const grownMib = peakMib(server.pid) - idleMib
      rows.push(`${name}: ${grownMib.toFixed(0)} MiB more than ${idleMib.toFixed(0)}; ${JSON.stringify(got)}`)
      console.log(rows.at(-1))
      if (grownMib > MAX_GROWTH_MIB) tooMuch.push(rows.at(-1)!)
      // A flood of invalid requests proves nothing.
      if ('400' in got) invalid.push(name)
      await server.kill()
    }
    expect(tooMuch).toEqual([])
    expect(invalid).toEqual([])
  },
  900_000,
)
