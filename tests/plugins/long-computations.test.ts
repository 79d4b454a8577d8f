import { afterAll, describe, expect, test } from 'vitest'
import { newClient, type TestApp, testApp, testAppWithStore } from '../support/app.js'
import { turnsDuring } from '../support/event-loop-turns.js'
import { expectProblem } from '../support/problem.js'
import { Connection, portOf } from '../support/raw.js'
import { aVehicle } from '../support/vehicles.js'

const LOG = '/v1/signals/log-analysis'
const LOG_TABLE = '/v1/signals/log-analysis/csv'
const TRACK = '/v1/odometers/track'
const GPX_TRACK = '/v1/odometers/track/gpx'
const BATCH = '/v1/vehicle-checks/batch'
const SIMULATION = '/v1/signals/simulation'

const JSON_TYPE = 'application/json'
const GPX_TYPE = 'application/gpx+xml'

/** A drive of 72 km/h at 4000 pulses per km: 80 pulses a second. */
const drive = (seconds: number) => ({
  pulses: { perKm: 4000 },
  ring: { pulsesPerTurn: 8, rms: 0.02 },
  profile: [
    { t: { s: 0 }, speed: { kmh: 72 } },
    { t: { s: seconds }, speed: { kmh: 72 } },
  ],
})

const sent = (app: TestApp, url: string, type: string, payload: string | Buffer) =>
  app.inject({ method: 'POST', url, headers: { 'content-type': type }, payload })

describe('a large body is parsed and computed in a worker thread', () => {
  const app = testApp()
  afterAll(async () => (await app).close())

  const track = (points: number) => {
    const all = Array.from(
      { length: points },
      (_, i) => `<trkpt lat="${(48 + i * 1e-4).toFixed(4)}" lon="11"></trkpt>`,
    )
    return `<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="c"><trk><trkseg>${all.join('')}</trkseg></trk></gpx>`
  }

  // Until 2026-11 all of these were read by the thread of the requests, in one go: 5.6 million {} held it for 8.9 s, a log of 8 million
  // periods for 7.8 s, a GPX document of 250 000 points for 3 s. Turns of its loop are counted, not timed: there were fewer than 30 of them.
  test.each([
    [
      'objects that mean nothing',
      LOG,
      JSON_TYPE,
      `{"periods":[${'{},'.repeat(290_000)}{}],"pulsesPerTurn":4}`,
      400,
    ],
    [
      'numbers, and a word',
      LOG,
      JSON_TYPE,
      `{"periods":[${'1,'.repeat(1_000_000)}"x"],"pulsesPerTurn":4}`,
      400,
    ],
    [
      'positions',
      TRACK,
      JSON_TYPE,
      `{"points":[${'{"lat":48.5,"lon":11},'.repeat(49_999)}{"lat":48,"lon":11}]}`,
      422,
    ],
    ['a GPX document', GPX_TRACK, GPX_TYPE, track(20_000), 200],
    ['vehicles that are none', BATCH, JSON_TYPE, `{"vehicles":[${'0,'.repeat(900_000)}0]}`, 400],
  ])('%s', async (_, url, type, body, status) => {
    const { turns, result } = await turnsDuring(sent(await app, url, type, body))
    expect(result.statusCode, result.body.slice(0, 300)).toBe(status)
    expect(turns).toBeGreaterThan(300)
  })

  const periods = Array.from({ length: 400 }, (_, i) => 2500 + (i % 4) * 5)
  const log = { periods, unit: 'us', pulsesPerTurn: 4 }
  const csv = `period_us\n${periods.join('\n')}\n`
  const vehicles = { vehicles: [{ ref: 'a', vehicle: aVehicle() }, { ref: 'b\n', vehicle: 5 }, [], 'x,y]'] }

  // What follows the text changes nothing but its length: the same is answered here as in a thread, byte for byte.
  test.each([
    ['a log', LOG, JSON_TYPE, JSON.stringify(log), 200],
    ['a log with a wrong unit', LOG, JSON_TYPE, JSON.stringify({ ...log, unit: 'h' }), 400],
    ['a log with a key twice', LOG, JSON_TYPE, '{"periods":[1],"periods":[2]}', 400],
    ['a log that is not JSON', LOG, JSON_TYPE, '{"periods":[1,]}', 400],
    ['a log without pulses', LOG, JSON_TYPE, JSON.stringify({ ...log, periods: [1, 0, 1, 1] }), 422],
    ['a table', `${LOG_TABLE}?pulsesPerTurn=4&unit=us&content=periods`, 'text/csv', csv, 200],
    ['a table with a wrong cell', `${LOG_TABLE}?pulsesPerTurn=4`, 'text/csv', 'a\n1\nx\n', 422],
    ['points', TRACK, JSON_TYPE, '{"points":[{"lat":48,"lon":11},{"lat":48.1,"lon":11}]}', 200],
    [
      'a point beyond the pole',
      TRACK,
      JSON_TYPE,
      '{"points":[{"lat":98,"lon":11},{"lat":48.1,"lon":11}]}',
      400,
    ],
    ['a GPX document', `${GPX_TRACK}?pulses=500`, GPX_TYPE, track(40), 200],
    ['a GPX document without a track', GPX_TRACK, GPX_TYPE, track(0), 400],
    ['a batch', BATCH, JSON_TYPE, JSON.stringify(vehicles, undefined, '\r\n\t'), 200],
    ['a batch of none', BATCH, JSON_TYPE, '{"vehicles":[]}', 400],
  ])('%s is answered the same', async (_, url, type, body, status) => {
    const short = await sent(await app, url, type, body)
    const long = await sent(await app, url, type, body + (type === 'text/csv' ? '\n' : ' ').repeat(300_000))
    const said = ({ statusCode, headers, body }: typeof short) => ({
      statusCode,
      type: headers['content-type'],
      body: body.replaceAll(/"requestId":"[\w-]+"/g, ''),
    })
    expect(short.statusCode, short.body).toBe(status)
    expect(said(long)).toEqual(said(short))
  })
})

describe('of one caller', () => {
  // Until 2026-11 twenty simulations of one caller filled the queue of the threads, and everybody else was answered 503.
  test('up to the maximum run and wait; the next is a 429, and other callers are served', async () => {
    const { app, store } = await testAppWithStore({ COMPUTATIONS_PER_CALLER: '3', WORKERS: '1' })
    const other = await newClient(app, store, 'other')
    const order: string[] = []
    const simulated = async () => {
      const answer = await sent(app, SIMULATION, JSON_TYPE, JSON.stringify(drive(500)))
      order.push(`one ${answer.statusCode}`)
      return answer
    }
    const own = Array.from({ length: 20 }, simulated)
    const others = other('POST', SIMULATION, drive(500)).then(({ status }) => order.push(`other ${status}`))
    const answers = await Promise.all(own)
    await others
    const refused = answers.filter(({ statusCode }) => statusCode !== 200)
    expect(refused).toHaveLength(17)
    for (const answer of refused) expectProblem(answer, 429, 'rate-limited')
    expect(refused[0]!.headers['retry-after']).toBe('2')
    // One runs, two wait: the other caller comes after the one that runs and one that waits.
    expect(order.filter((one) => !one.endsWith('429'))).toEqual([
      'one 200',
      'one 200',
      'other 200',
      'one 200',
    ])
    await app.close()
  })

  test('not all threads are used: another caller gets one at once', async () => {
    const { app, store } = await testAppWithStore({ COMPUTATIONS_PER_CALLER: '8', WORKERS: '2' })
    const other = await newClient(app, store, 'other')
    const order: string[] = []
    // Both threads are there: one that is only starting would be late for its turn.
    await Promise.all([
      sent(app, SIMULATION, JSON_TYPE, JSON.stringify(drive(500))),
      other('POST', SIMULATION, drive(500)),
    ])
    const own = Array.from({ length: 4 }, () =>
      sent(app, SIMULATION, JSON_TYPE, JSON.stringify(drive(20_000))).then(() => order.push('one')),
    )
    const others = other('POST', SIMULATION, drive(300)).then(() => order.push('other'))
    await Promise.all([...own, others])
    expect(order.indexOf('other')).toBeLessThanOrEqual(1)
    await app.close()
  })

  test('a computation ends when its caller disconnects, and no longer counts', async () => {
    const { app, store } = await testAppWithStore({ COMPUTATIONS_PER_CALLER: '1', WORKERS: '2' })
    const other = await newClient(app, store, 'other')
    const port = await portOf(app)
    const short = () => sent(app, SIMULATION, JSON_TYPE, JSON.stringify(drive(500)))
    // Both threads are there.
    await Promise.all([short(), other('POST', SIMULATION, drive(500))])
    const table = '2500\n'.repeat(1_000_000)
    const ask = () => {
      const connection = new Connection(port)
      const url = `${LOG_TABLE}?pulsesPerTurn=4&unit=us&content=periods`
      connection.write(
        `POST ${url} HTTP/1.1\r\nHost: x\r\nContent-Type: text/csv\r\nContent-Length: ${table.length}\r\n\r\n${table}`,
      )
      return connection
    }
    const beganMs = performance.now()
    const whole = ask()
    await whole.until('HTTP/1.1 200')
    const wholeMs = performance.now() - beganMs
    whole.close()
    const leaving = ask()
    await new Promise((resolve) => setTimeout(resolve, wholeMs / 4))
    expect((await short()).statusCode).toBe(429)
    leaving.close()
    const leftMs = performance.now()
    while ((await short()).statusCode === 429) await new Promise((resolve) => setTimeout(resolve, 5))
    expect(performance.now() - leftMs).toBeLessThan(wholeMs / 2)
    await app.close()
  })
})
