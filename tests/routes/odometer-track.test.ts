import { afterAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'
import { operationOf, readOpenApi, requestExamples } from '../support/contract.js'

const app = await testApp()
afterAll(() => app.close())

const URL = '/v1/odometers/track'
const GPX_URL = '/v1/odometers/track/gpx'
const NS = 'http://www.topografix.com/GPX/1/1'

// A meridian arc: 0.09 deg of latitude from 48 deg north, by the series for the WGS 84 meridian (Snyder, USGS PP 1395, eq. 3-21).
const meridianM = (() => {
  const [a, e2] = [6_378_137, 0.0066943799901413165]
  const m = (deg: number) => {
    const p = (deg * Math.PI) / 180
    return (
      a *
      ((1 - e2 / 4 - (3 * e2 ** 2) / 64 - (5 * e2 ** 3) / 256) * p -
        ((3 * e2) / 8 + (3 * e2 ** 2) / 32 + (45 * e2 ** 3) / 1024) * Math.sin(2 * p) +
        ((15 * e2 ** 2) / 256 + (45 * e2 ** 3) / 1024) * Math.sin(4 * p) -
        ((35 * e2 ** 3) / 3072) * Math.sin(6 * p))
    )
  }
  return (from: number, to: number) => m(to) - m(from)
})()
const MERIDIAN_M = meridianM(48, 48.09)

const point = (i: number, extra = '') =>
  `<trkpt lat="${(48 + 0.0009 * i).toFixed(4)}" lon="11.0"><ele>500</ele><time>2026-05-01T12:${String(Math.floor(i / 12)).padStart(2, '0')}:${String((i % 12) * 5).padStart(2, '0')}Z</time>${extra}</trkpt>`
const points = (from: number, to: number) =>
  Array.from({ length: to - from + 1 }, (_, i) => point(from + i)).join('\n')
const gpx = (inner: string, head = '<?xml version="1.0" encoding="UTF-8"?>') =>
  `${head}<gpx xmlns="${NS}" version="1.1" creator="Teasel Club"><metadata><time>2026-05-01T11:00:00Z</time></metadata>${inner}</gpx>`
const whole = gpx(`<trk><name>Test &amp; drive</name><trkseg>${points(0, 100)}</trkseg></trk>`)

async function upload(body: string | Buffer, query = '', headers: Record<string, string> = {}) {
  const response = await app.inject({
    method: 'POST',
    url: `${GPX_URL}${query}`,
    headers: { 'content-type': 'application/gpx+xml', ...headers },
    payload: body,
  })
  return { status: response.statusCode, body: response.json() }
}

describe('GPX', () => {
  test('the example of the contract is answered', async () => {
    const document = readOpenApi()
    const [example] = requestExamples(document, operationOf('measureGpxTrack'))
    const { status, body } = await upload(example as string, '?indicatedKm=2.3')
    expect(status).toBe(200)
    expect(Math.abs(body.recorded.length.km * 1000 - meridianM(52, 52.02))).toBeLessThan(0.01)
  })
  test('length of a meridian arc, and pulses per mile', async () => {
    const { status, body } = await upload(whole, '?pulses=40000&accuracyM=3')
    expect(status).toBe(200)
    expect(Math.abs(body.length.km * 1000 - MERIDIAN_M)).toBeLessThan(0.01)
    expect(body.pulses.perKm).toBeCloseTo(40_000_000 / MERIDIAN_M, 2)
    expect(body.pulses.plusMinus.perKm).toBeGreaterThan(0)
    expect(body.recorded.points).toBe(101)
  })
  test('the same track in JSON gives the same answer', async () => {
    const json = Array.from({ length: 101 }, (_, i) => ({
      lat: Number((48 + 0.0009 * i).toFixed(4)),
      lon: 11,
      time: `2026-05-01T12:${String(Math.floor(i / 12)).padStart(2, '0')}:${String((i % 12) * 5).padStart(2, '0')}Z`,
    }))
    const fromJson = await post(app, URL, { points: json, counted: { pulses: 40_000 }, accuracy: { m: 3 } })
    expect(fromJson.body).toEqual((await upload(whole, '?pulses=40000&accuracyM=3')).body)
  })
  test('segments are not bridged, and a count across the gap gives no count per distance', async () => {
    const { body } = await upload(
      gpx(`<trk><trkseg>${points(0, 40)}</trkseg><trkseg>${points(60, 100)}</trkseg></trk>`),
      '?pulses=40000',
    )
    expect(Math.abs(body.length.km * 1000 - 0.8 * MERIDIAN_M)).toBeLessThan(1)
    expect(body.gaps).toHaveLength(1)
    expect(body.gaps[0].distance.km * 1000).toBeCloseTo(0.2 * MERIDIAN_M, 0)
    expect(body.gaps[0].moved).toBe(true)
    expect(body.pulses).toBeUndefined()
    expect(body.notes.map(({ code }: { code: string }) => code)).toContain('moved-while-not-recorded')
  })
  test('a pause of minutes within a segment is also a gap', async () => {
    const late = point(41).replace('T12:03', 'T12:33')
    const { body } = await upload(gpx(`<trk><trkseg>${points(0, 40)}${late}</trkseg></trk>`))
    expect(body.gaps).toHaveLength(1)
    expect(body.gaps[0].duration.s).toBe(1805)
  })
  test('error of the odometer: 10.5 km indicated over the arc', async () => {
    const { body } = await upload(whole, '?indicatedKm=10.5&indicatedPlusMinus=0.05')
    expect(body.odometerErrorPercent).toBeCloseTo((10_500 / MERIDIAN_M - 1) * 100, 3)
    expect(body.odometerErrorPlusMinusPercent).toBeGreaterThan(0.47)
  })
  test('split anywhere in the upload, even inside a character, it reads the same', async () => {
    const bytes = Buffer.from(whole.replace('Test', 'Tëst'))
    const { Readable } = await import('node:stream')
    const response = await app.inject({
      method: 'POST',
      url: GPX_URL,
      headers: { 'content-type': 'application/gpx+xml' },
      payload: Readable.from(Array.from({ length: bytes.length }, (_, i) => bytes.subarray(i, i + 1))),
    })
    expect(response.json().length).toEqual((await upload(whole)).body.length)
  })
})

describe('anything but a GPX 1.1 track is rejected with 400', () => {
  const entities = `<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>`
  test.each([
    ['a document type with entities', gpx(`<trk><name>&b;</name></trk>`, entities), /document type/],
    ['an external entity', gpx('', '<!DOCTYPE gpx SYSTEM "file:///etc/passwd">'), /document type/],
    ['an entity nobody defined', gpx(`<trk><name>&nobody;</name></trk>`), /not XML/],
    ['tags that do not close', whole.replace('</trkseg>', ''), /not XML/],
    ['a cut-off upload', whole.slice(0, 2000), /not XML/],
    ['GPX 1.0', whole.replace(NS, 'http://www.topografix.com/GPX/1/0'), /GPX 1\.1/],
    ['another document', '<html xmlns="http://www.w3.org/1999/xhtml"/>', /gpx/],
    ['no track', gpx('<wpt lat="48" lon="11"/><rte><rtept lat="48" lon="11"/></rte>'), /no track points/],
    ['a latitude of 91', whole.replace('lat="48.0000"', 'lat="91"'), /lat must be/],
    ['a latitude in words', whole.replace('lat="48.0000"', 'lat="0x30"'), /lat must be/],
    ['another encoding', whole.replace('UTF-8', 'ISO-8859-1'), /UTF-8/],
    [
      'bytes that are not UTF-8',
      Buffer.concat([Buffer.from(whole.slice(0, 200)), Buffer.from([0xff, 0xfe])]),
      /UTF-8/,
    ],
    ['nothing', '', /not XML|not a GPX|no track|is empty/],
    ['a thousand levels', gpx('<a>'.repeat(1000) + '</a>'.repeat(1000)), /levels deep/],
  ])('%s', async (_, body, detail) => {
    const answer = await upload(body)
    expect(answer.status, JSON.stringify(answer.body)).toBe(400)
    expect(answer.body.code).toBe('malformed-gpx')
    expect(answer.body.detail).toMatch(detail)
    expect(answer.body.detail).not.toMatch(/saxes|node_modules|\bat \//)
  })
})

describe('limits and conflicting parameters', () => {
  // Until 2026-11 all of them were collected before the element was looked at: 3.2 s of the thread of the requests, and a 400 that
  // named the first attribute of no known namespace.
  test('an element of a million attributes is refused at the 65th', async () => {
    const attributes = Array.from({ length: 1_000_000 }, (_, i) => ` a${i}=""`).join('')
    const { status, body } = await upload(
      gpx(`<trk><trkseg><trkpt lat="48" lon="11"${attributes}/></trkseg></trk>`),
    )
    expect([status, body.code]).toEqual([400, 'malformed-gpx'])
    expect(body.detail).toContain('more than 64 attributes')
  })
  test('more than 16 MiB is 413, announced or not', async () => {
    const big = Buffer.alloc(16 * 1024 * 1024 + 1, ' ')
    expect((await upload(big)).body.code).toBe('body-too-large')
    const { Readable } = await import('node:stream')
    const response = await app.inject({
      method: 'POST',
      url: GPX_URL,
      headers: { 'content-type': 'application/gpx+xml', 'transfer-encoding': 'chunked' },
      payload: Readable.from([Buffer.from(gpx('').slice(0, -6)), big]),
    })
    expect(response.statusCode).toBe(413)
  })
  test('times that run backward are 422 at the point', async () => {
    const { status, body } = await upload(gpx(`<trk><trkseg>${point(5)}${point(4)}</trkseg></trk>`))
    expect(status).toBe(422)
    expect(body.code).toBe('times-not-increasing')
    expect(body.errors[0].pointer).toBe('#/points/1')
  })
  test('an invalid date is 422', async () => {
    const { status, body } = await upload(whole.replace('2026-05-01T12:00:05Z', '2026-13-01T12:00:05Z'))
    expect([status, body.code]).toEqual([422, 'time-not-understood'])
  })
  test('a track of a standing car is 422', async () => {
    const { body } = await post(app, URL, {
      points: [
        { lat: 48, lon: 11 },
        { lat: 48, lon: 11 },
      ],
    })
    expect(body.code).toBe('track-without-length')
  })
  test.each([
    '?pulses=1&turns=2',
    '?resolution=0.5',
    '?indicatedPlusMinus=1',
    '?indicatedKm=1&indicatedMi=1',
    '?nothing=1',
  ])('%s is 400', async (query) => expect((await upload(whole, query)).status).toBe(400))
  test('the query string of points has no count', async () => {
    const response = await app.inject({
      method: 'POST',
      url: `${URL}?pulses=5`,
      headers: { 'content-type': 'application/json' },
      payload: JSON.stringify({
        points: [
          { lat: 48, lon: 11 },
          { lat: 48.01, lon: 11 },
        ],
      }),
    })
    expect(response.statusCode).toBe(400)
    expect(response.json().errors[0]).toMatchObject({ in: 'query', pointer: '#/pulses' })
  })
  test('GPX elsewhere is 415', async () => {
    const response = await app.inject({
      method: 'POST',
      url: '/v1/tires/geometry',
      headers: { 'content-type': 'application/gpx+xml' },
      payload: whole,
    })
    expect(response.statusCode).toBe(415)
  })
})
