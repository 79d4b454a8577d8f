import { afterAll, describe, expect, test } from 'vitest'
import { clientOf, newClient, post, testAppWithStore } from '../support/app.js'
import { evenInterval } from '../support/coverage.js'
import { expectProblem } from '../support/problem.js'
import { exampleProfile } from '../support/worksheet-vehicles.js'

const DAY = Date.UTC(2026, 2, 14, 23, 59)
let now = DAY
const { app, store } = await testAppWithStore({}, () => now)
afterAll(() => app.close())
const club = await newClient(app, store, 'Lantern Motor Club')
const reader = await newClient(app, store, 'Lantern Motor Club', 'reader')
const other = await newClient(app, store, 'Another Club', 'admin')

const sheetOf = async (file: string) =>
  (await post(app, '/v1/vehicle-checks/worksheet', exampleProfile(file))).body
const rowAt = (path: { table: Array<{ true: Record<string, number> }> }, unit: string, speed: number) =>
  path.table.find((row) => Math.abs(row.true[unit]! - speed) < 1e-9) as unknown as {
    indicated: Measure
    error: Measure
  }
type Measure = { kmh: number; mph: number; plusMinus: { kmh: number; mph: number } }

describe('the figures of a worksheet against independent arithmetic', () => {
  test('cable: 175/70R13 worn by 2 mm, 37/9, 6/20, 1000 turns per mile', async () => {
    const [path] = (await sheetOf('cable-changed-axle.json')).paths
    const diameterMm = 13 * 25.4 + 2 * 175 * 0.7
    // Between two thirds and all of the wear reaches the rolling radius: five sixths.
    const rollingMm = 3.05 * diameterMm - 2 * Math.PI * 2 * (5 / 6)
    const uMm = Math.hypot(2 * Math.PI * (5 / 6) * 0.25, (2 * Math.PI * 2) / 6 / Math.sqrt(3))
    const turnsPerMile = 1_609_344 / rollingMm
    expect(path.chain.map(({ turns }: { turns: { perMile: number } }) => turns.perMile)).toEqual([
      expect.closeTo(turnsPerMile, 6),
      expect.closeTo((turnsPerMile * 37) / 9, 6),
      expect.closeTo((((turnsPerMile * 37) / 9) * 6) / 20, 6),
      expect.closeTo(1000, 9),
    ])
    const indicated = 60 * ((turnsPerMile * 37 * 6) / 9 / 20 / 1000)
    const row = rowAt(path, 'mph', 60)
    expect(row.indicated.mph).toBeCloseTo(indicated, 9)
    expect(row.indicated.kmh).toBeCloseTo(indicated * 1.609344, 9)
    expect(row.error.mph).toBeCloseTo(indicated - 60, 9)
    // ETRTO: the factor is anywhere from 2.5 % below to 1.5 % above 3.05; wear is normal.
    const off = (fraction: number) => indicated * (rollingMm / (rollingMm + 3.05 * diameterMm * fraction) - 1)
    expect(row.error.plusMinus.mph).toBeCloseTo(evenInterval(off, (indicated * uMm) / rollingMm), 2)
    // Hold the dial at 40: the true speed is 40 over the ratio, a mile takes 3600 s over that.
    const mark = path.roadTest.marks.find(
      (one: { indicatedToHold: Measure }) => Math.abs(one.indicatedToHold.mph - 40) < 1e-9,
    )
    expect(mark.true.mph).toBeCloseTo((40 * 60) / indicated, 9)
    expect(mark.time.s).toBeCloseTo(3600 / ((40 * 60) / indicated), 9)
    // TM 9-1829A: 1000 turns a mile, so that the cable turns at 1000 rpm when the head is to show 60 mph, 60 to 63 of it.
    const bench = path.bench.find((one: { speed: Measure }) => Math.abs(one.speed.mph - 60) < 1e-9)
    expect(bench.rpm.rpm).toBeCloseTo(1000, 9)
    expect([bench.tolerances[0].lower.mph, bench.tolerances[0].upper.mph]).toEqual([
      expect.closeTo(60, 9),
      expect.closeTo(63, 9),
    ])
  })

  test('pulses: 1988 ± 4 mm, 16 per turn times 5/8, 8000 per mile', async () => {
    const [path] = (await sheetOf('pulse-ring-display.json')).paths
    expect(path.chain.at(-2).pulses.perKm).toBeCloseTo(1e7 / 1988, 6)
    const indicated = (60 * (1_609_344 * 10)) / 1988 / 8000
    const row = rowAt(path, 'mph', 60)
    expect(row.indicated.mph).toBeCloseTo(indicated, 9)
    expect(row.error.plusMinus.mph).toBeCloseTo((indicated * 4) / 1988, 6)
    // A dial to 160 mph is looked at every 20 mph.
    expect(path.bench[0].frequency.hz).toBeCloseTo((8000 * 20) / 3600, 9)
  })

  test('front wheel: 6.40-14 of 666 mm, a drive of 5:4, 585 ± 6 turns per km, 1 ± 1 km/h at standstill', async () => {
    const [path] = (await sheetOf('wheel-driven-cable.json')).paths
    const turnsPerKm = 1.25e6 / (2.99 * 666)
    const scale = turnsPerKm / 585
    const row = rowAt(path, 'kmh', 100)
    expect(row.indicated.kmh).toBeCloseTo(100 * scale + 1, 9)
    const u = Math.hypot((100 * scale * 3) / 585, 0.5)
    const off = (fraction: number) => 100 * scale * (1 / (1 + fraction) - 1)
    expect(row.error.plusMinus.kmh).toBeCloseTo(evenInterval(off, u), 2)
  })

  test('lists measured and assumed values, each with its standing', async () => {
    const { measured, assumed } = await sheetOf('wheel-driven-cable.json')
    const told = (inputs: Array<{ field: string; standing: string }>) =>
      inputs.map(({ field, standing }) => `${field} ${standing}`)
    expect(told(measured)).toEqual(['/paths/0/head/constant measured', '/paths/0/head/offset measured'])
    expect(told(assumed)).toEqual([
      '/tires/front/rollingCircumference from-memory',
      '/tires/rear/rollingCircumference from-memory',
      '/paths/0/stages/0 user',
    ])
    const display = await sheetOf('pulse-ring-display.json')
    expect(told(display.measured)).toEqual(['/tires/rear/rollingCircumference measured'])
  })

  test('contains findings, remedies, sources and cautions of the vehicle check', async () => {
    for (const file of ['cable-changed-axle.json', 'pulse-ring-display.json', 'wheel-driven-cable.json']) {
      const sheet = await sheetOf(file)
      const check = (await post(app, '/v1/vehicle-checks', exampleProfile(file))).body
      expect(sheet.findings).toEqual(check.findings)
      expect(sheet.remedies).toEqual(check.remedies)
      expect(sheet.sources).toEqual(expect.arrayContaining(check.sources))
      expect(sheet.references.map(({ id }: { id: string }) => id)).toEqual(sheet.sources)
      expect(sheet.notes).toEqual(expect.arrayContaining(check.notes))
      expect(sheet.date).toBe('2026-03-14')
      expect(sheet).not.toHaveProperty('revision')
    }
  })
})

describe('the media type follows Accept', () => {
  const asked = (accept: string | undefined) =>
    app.inject({
      method: 'POST',
      url: '/v1/vehicle-checks/worksheet',
      headers: { 'content-type': 'application/json', ...(accept === undefined ? {} : { accept }) },
      payload: JSON.stringify(exampleProfile('cable-changed-axle.json')),
    })
  const forms: ReadonlyArray<readonly [string | undefined, RegExp]> = [
    [undefined, /^application\/json/],
    ['*/*', /^application\/json/],
    ['text/html,application/xhtml+xml;q=0.9,*/*;q=0.8', /^text\/html; charset=utf-8$/],
    ['application/pdf', /^application\/pdf$/],
    ['application/json;q=0.5, application/pdf', /^application\/pdf$/],
  ]
  for (const [accept, type] of forms) {
    test(`${accept}`, async () => {
      const answer = await asked(accept)
      expect(answer.statusCode).toBe(200)
      expect(answer.headers['content-type']).toMatch(type)
      expect(answer.headers.vary).toContain('accept')
    })
  }
  test('406 for another', async () => {
    expectProblem(await asked('image/png'), 406, 'not-acceptable')
  })
  test('400 for another paper', async () => {
    const answer = await app.inject({
      method: 'POST',
      url: '/v1/vehicle-checks/worksheet?paper=a3',
      headers: { 'content-type': 'application/json' },
      payload: JSON.stringify(exampleProfile('cable-changed-axle.json')),
    })
    expectProblem(answer, 400, 'invalid-request')
  })
  test('422 with the pointer of the profile', async () => {
    const profile = exampleProfile('cable-changed-axle.json')
    profile.tires.rear = { size: 'FR70-14' }
    const { status, body } = await post(app, '/v1/vehicle-checks/worksheet', profile)
    expect([status, body.code, body.errors[0].pointer]).toEqual([
      422,
      'tire-size-not-tabulated',
      '#/tires/rear/size',
    ])
  })
})

describe('GET /v1/vehicles/{id}/worksheet', () => {
  const stored = async (reference: string) =>
    (await club('POST', '/v1/vehicles', { ...exampleProfile('cable-changed-axle.json'), reference })).body
      .id as string

  test('is the worksheet of the profile, with its revision', async () => {
    const id = await stored('first')
    const { status, body } = await club('GET', `/v1/vehicles/${id}/worksheet`)
    expect(status).toBe(200)
    expect(body.revision).toEqual({ id, version: 1, changedAt: new Date(DAY).toISOString() })
    const sent = await sheetOf('cable-changed-axle.json')
    expect(body.paths).toEqual(sent.paths)
    await club('PATCH', `/v1/vehicles/${id}`, { notes: 'Seen again.' }, { 'if-match': '"1"' })
    const again = (await club('GET', `/v1/vehicles/${id}/worksheet`)).body
    expect([again.revision.version, again.vehicle.notes]).toEqual([2, 'Seen again.'])
  })

  test('is readable by a reader, not by another account or without a key', async () => {
    const id = await stored('second')
    for (const accept of ['application/json', 'text/html', 'application/pdf']) {
      expect((await reader('GET', `/v1/vehicles/${id}/worksheet`, undefined, { accept })).status).toBe(200)
      expect((await other('GET', `/v1/vehicles/${id}/worksheet`, undefined, { accept })).status).toBe(404)
      const nobody = clientOf(app, undefined)
      expect((await nobody('GET', `/v1/vehicles/${id}/worksheet`, undefined, { accept })).status).toBe(401)
    }
    expect((await club('GET', '/v1/vehicles/none/worksheet')).status).toBe(404)
  })

  test('304 while none of its content has changed: media type, paper, day, recorded parts, profile', async () => {
    const id = await stored('third')
    const read = (headers: Record<string, string> = {}, query = '') =>
      club('GET', `/v1/vehicles/${id}/worksheet${query}`, undefined, { accept: 'text/html', ...headers })
    const { etag } = (await read()).headers
    expect(etag).toMatch(/^"1-[\w-]{22}"$/)
    const unchanged = await read({ 'if-none-match': etag! })
    expect([unchanged.status, unchanged.text, unchanged.headers.etag]).toEqual([304, '', etag])
    expect((await read({ 'if-none-match': `"7", W/${etag}` })).status).toBe(304)
    expect((await read({ 'if-none-match': '*' })).status).toBe(304)
    expect((await read({ 'if-none-match': '"1"' })).status).toBe(200)
    expect((await read({ 'if-none-match': etag!, accept: 'application/json' })).status).toBe(200)
    expect((await read({ 'if-none-match': etag! }, '?paper=letter')).status).toBe(200)
    expect((await read({ 'if-none-match': 'unquoted' })).status).toBe(400)
    now = DAY + 86_400_000
    expect((await read({ 'if-none-match': etag! })).status).toBe(200)
    now = DAY
    expect((await read({ 'if-none-match': etag! })).status).toBe(304)
    await club('POST', '/v1/parts', {
      kind: 'driven-gear',
      name: 'Driven gear of 22 teeth',
      teeth: 22,
      interfaces: [],
    })
    expect((await read({ 'if-none-match': etag! })).status).toBe(200)
  })
})
