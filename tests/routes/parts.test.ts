import fc from 'fast-check'
import { afterAll, beforeEach, describe, expect, test } from 'vitest'
import type { PartShape } from '../../src/schemas/parts.js'
import { type Client, clientOf, newClient, testAppWithStore } from '../support/app.js'
import { expectDocumented } from '../support/documented.js'
import { anyPart, deleteAll } from '../support/parts.js'
import { handClock } from '../support/stores.js'

const clock = handClock()
const { app, store } = await testAppWithStore({}, clock)
const elsewhere = await testAppWithStore()
afterAll(() => Promise.all([app.close(), elsewhere.app.close()]))

const club = await newClient(app, store, 'club')
const shop = await newClient(app, store, 'shop')
const admin = await newClient(app, store, 'shop', 'admin')
const anyone = clientOf(app, undefined)
const other = await newClient(elsewhere.app, elsewhere.store, 'other', 'admin')

// Parts are shared: each test begins with none.
beforeEach(async () => {
  await deleteAll(admin)
  await deleteAll(other)
})

const gear = (extra: Record<string, unknown> = {}) => ({
  kind: 'driven-gear',
  name: 'Driven gear, 21 teeth',
  maker: 'Quillfeather Gear Works',
  teeth: 21,
  interfaces: [{ kind: 'thread', designation: '7/8-18', gender: 'male' }],
  ...extra,
})
const table = { 'content-type': 'text/csv' }
const recorded = async (extra: Record<string, unknown> = {}, by = club) =>
  (await by('POST', '/v1/parts', gear(extra))).body
const names = (answer: { body: { parts: { name: string }[] } }) => answer.body.parts.map(({ name }) => name)

describe('a part', () => {
  test('is recorded as given, and can be read by anyone, with its version and who recorded it', async () => {
    const made = await club('POST', '/v1/parts', gear())
    expect(made.status).toBe(201)
    expect(made.headers).toMatchObject({ etag: '"1"', location: `/v1/parts/${made.body.id}` })
    const at = new Date(clock()).toISOString()
    expect(made.body).toEqual({
      id: made.body.id,
      version: 1,
      createdAt: at,
      changedAt: at,
      recordedBy: 'club',
      ...gear(),
    })
    expectDocumented('createPart', made)
    const read = await anyone('GET', `/v1/parts/${made.body.id}`)
    expect([read.status, read.text, read.headers.etag]).toEqual([200, made.text, '"1"'])
  })

  test('needs a key of an editor to be recorded', async () => {
    const reader = await newClient(app, store, 'club', 'reader')
    expect((await reader('POST', '/v1/parts', gear())).body).toMatchObject({
      status: 403,
      code: 'insufficient-role',
    })
    const none = await app.inject({ method: 'POST', url: '/v1/parts', payload: gear() })
    expect(none.statusCode).toBe(401)
  })

  test.each([
    ['an unknown field', { colour: 'white' }, 400, '#/colour'],
    [
      'two units',
      { interfaces: [{ kind: 'bore', diameter: { mm: 20, in: 1 } }] },
      400,
      '#/interfaces/0/diameter',
    ],
    [
      'no gender of a shaft',
      { interfaces: [{ kind: 'shaft', form: 'square', size: { mm: 3 } }] },
      400,
      '#/interfaces/0/gender',
    ],
    ['an unknown interface', { interfaces: [{ kind: 'velcro' }] }, 400, '#/interfaces/0/kind'],
    ['a control character', { name: 'a\u0000b' }, 400, '#/name'],
    ['a lone surrogate', { notes: '\ud800' }, 400, '#/notes'],
    ['a blank name', { name: '  ' }, 400, '#/name'],
    [
      'a thread nobody cuts',
      { interfaces: [{ kind: 'thread', designation: 'M18x15', gender: 'male' }] },
      422,
      '#/interfaces/0/designation',
    ],
    [
      'holes that overlap',
      { interfaces: [{ kind: 'bolt-circle', bolts: 6, circleDiameter: { mm: 100 }, boltHole: { mm: 60 } }] },
      422,
      '#/interfaces/0/boltHole',
    ],
  ])('with %s is refused at the field', async (_name, extra, status, pointer) => {
    const answer = await club('POST', '/v1/parts', gear(extra))
    expect([answer.status, answer.body.errors[0].pointer]).toEqual([status, pointer])
    expect((await anyone('GET', '/v1/parts')).body.parts).toEqual([])
  })

  test('is changed with the version that was read, by its account or an admin', async () => {
    const { id } = await recorded()
    const url = `/v1/parts/${id}`
    expect((await club('PUT', url, gear())).body).toMatchObject({ status: 428, code: 'condition-required' })
    expect((await club('PUT', url, gear(), { 'if-match': '"2"' })).body).toMatchObject({ status: 412 })
    expect((await shop('PUT', url, gear(), { 'if-match': '"1"' })).body).toMatchObject({
      status: 403,
      code: 'not-owner',
    })
    const put = await club('PUT', url, gear({ teeth: 22 }), { 'if-match': '"1"' })
    expect([put.status, put.body.version, put.body.teeth]).toEqual([200, 2, 22])
    const patched = await admin('PATCH', url, { maker: null, notes: 'white' }, { 'if-match': '"2"' })
    expect(patched.status).toBe(200)
    expect(patched.body).toMatchObject({ version: 3, notes: 'white', recordedBy: 'club' })
    expect(patched.body).not.toHaveProperty('maker')
    const broken = await club('PATCH', url, { name: null }, { 'if-match': '"3"' })
    expect([broken.status, broken.body.errors[0].pointer]).toEqual([400, '#/name'])
    const absent = await club('PUT', '/v1/parts/nothing', gear(), { 'if-match': '*' })
    expect(absent.body).toMatchObject({ status: 404 })
  })

  test('that was deleted is gone, but its last state can be read', async () => {
    const { id } = await recorded()
    await club('PATCH', `/v1/parts/${id}`, { teeth: 22 }, { 'if-match': '"1"' })
    expect((await club('DELETE', `/v1/parts/${id}`, undefined, { 'if-match': '"2"' })).status).toBe(204)
    expect((await anyone('GET', `/v1/parts/${id}`)).status).toBe(404)
    const revisions = await anyone('GET', `/v1/parts/${id}/revisions?limit=2`)
    expectDocumented('listPartRevisions', revisions)
    expect(revisions.body.revisions).toMatchObject([
      { version: 3, change: 'deleted', changedBy: 'club' },
      { version: 2, change: 'replaced', part: { teeth: 22 } },
    ])
    const rest = await anyone('GET', `/v1/parts/${id}/revisions?limit=2&cursor=${revisions.body.next}`)
    expect(rest.body).toMatchObject({ revisions: [{ version: 1, part: gear() }] })
    expect(rest.body).not.toHaveProperty('next')
  })

  test('with fit reports about it cannot be deleted', async () => {
    const { id } = await recorded()
    await shop('POST', '/v1/fits', {
      part: id,
      vehicle: { make: 'Fennimark', model: 'Dorsel Two' },
      result: 'fits',
      evidence: 'hearsay',
    })
    const answer = await club('DELETE', `/v1/parts/${id}`, undefined, { 'if-match': '*' })
    expect(answer.body).toMatchObject({ status: 409, code: 'part-in-use' })
  })

  test('recorded again with the same Idempotency-Key is recorded once', async () => {
    const key = { 'idempotency-key': 'once' }
    const first = await club('POST', '/v1/parts', gear(), key)
    const second = await club('POST', '/v1/parts', gear(), key)
    expect([second.status, second.text, second.headers.etag]).toEqual([201, first.text, '"1"'])
    expect((await anyone('GET', '/v1/parts')).body.parts).toHaveLength(1)
  })
})

describe('GET /v1/parts', () => {
  test('finds by kind, maker, words and bolt circle, in pages', async () => {
    const circle = (mm: number) => [{ kind: 'bolt-circle', bolts: 4, circleDiameter: { mm } }]
    await recorded({ name: 'Gear A' })
    await recorded({ name: 'Plate B', kind: 'adapter-plate', maker: 'Ösel', interfaces: circle(100.3) })
    await recorded({
      name: 'Plate C',
      kind: 'adapter-plate',
      interfaces: circle(99.8),
      notes: 'laser cut plates',
    })
    const find = async (query: string) => {
      const answer = await anyone('GET', `/v1/parts?${query}`)
      expectDocumented('listParts', answer)
      return names(answer)
    }
    expect(await find('')).toEqual(['Gear A', 'Plate B', 'Plate C'])
    expect(await find('kind=adapter-plate')).toEqual(['Plate B', 'Plate C'])
    expect(await find(`maker=${encodeURIComponent('ösel')}`)).toEqual(['Plate B'])
    expect(await find('text=plate')).toEqual(['Plate B', 'Plate C'])
    expect(await find('text=laser%20plate')).toEqual(['Plate C'])
    expect(await find('bolts=4&circleDiameter=100')).toEqual(['Plate C', 'Plate B'])
    expect(await find('bolts=4&circleDiameter=100&tolerance=0.2')).toEqual(['Plate C'])
    // 3.94 in is 100.076 mm: within half a millimeter of both.
    expect(await find('bolts=4&circleDiameter=100.076&kind=adapter-plate&text=plates')).toEqual([
      'Plate C',
      'Plate B',
    ])
    const first = await anyone('GET', '/v1/parts?limit=2')
    const second = await anyone('GET', `/v1/parts?limit=2&cursor=${first.body.next}`)
    expect([...names(first), ...names(second)]).toEqual(['Gear A', 'Plate B', 'Plate C'])
  })

  test.each([
    ['half a bolt circle', 'bolts=4', '#/circleDiameter'],
    ['the other half', 'circleDiameter=100', '#/bolts'],
    ['an unknown parameter', 'q=x', '#/q'],
    ['too large a page', 'limit=201', '#/limit'],
    ['a cursor of another list', 'cursor=AAAA', '#/cursor'],
  ])('refuses %s', async (_name, query, pointer) => {
    const answer = await anyone('GET', `/v1/parts?${query}`)
    expect([answer.status, answer.body.errors[0].pointer]).toEqual([400, pointer])
  })
})

describe('GET /v1/parts/{id}/candidates', () => {
  test('gives what mates or matches, with what was compared and the deviation, never as proven', async () => {
    const { id } = await recorded({
      kind: 'cable',
      name: 'Cable',
      interfaces: [
        { kind: 'thread', designation: '7/8-18', gender: 'female' },
        { kind: 'shaft', form: 'square', size: { mm: 3.3, plusMinus: 0.03 }, gender: 'male' },
      ],
    })
    const head = await recorded({
      kind: 'head',
      name: 'Head',
      interfaces: [
        { kind: 'thread', designation: 'M22x1.5', gender: 'male' },
        { kind: 'shaft', form: 'square', size: { mm: 3.5, plusMinus: 0.04 }, gender: 'female' },
      ],
    })
    await recorded({
      kind: 'cable',
      name: 'Other cable',
      interfaces: [{ kind: 'thread', designation: '7/8-18', gender: 'female' }],
    })
    await recorded({ kind: 'hub', name: 'Hub', interfaces: [{ kind: 'bore', diameter: { mm: 3.3 } }] })
    const answer = await anyone('GET', `/v1/parts/${id}/candidates?tolerance=0.5`)
    expect(answer.status, answer.text).toBe(200)
    expectDocumented('findPartCandidates', answer)
    const { candidates, complete, notes, sources } = answer.body
    expect(complete).toBe(true)
    expect(notes[0]).toMatchObject({ code: 'candidate-not-proven', level: 'caution' })
    expect(sources).toContain('stored-part')
    expect(candidates.map((one: { part: { name: string } }) => one.part.name)).toEqual([
      'Head',
      'Other cable',
    ])
    expect(candidates[0]).toMatchObject({
      part: { id: head.id, kind: 'head' },
      standing: 'candidate-not-proven',
      interfacePairs: [
        { thisInterface: 0, otherInterface: 0, relation: 'mates' },
        { thisInterface: 1, otherInterface: 1, relation: 'mates' },
      ],
    })
    const [thread, square] = candidates[0].interfacePairs
    // 22.225 - 22 mm, the male thread being the metric one; 5 x (25.4/18 - 1.5) mm.
    expect(thread.compared[0].deviation.mm).toBeCloseTo(0.225, 9)
    expect(thread.compared[1].deviation.mm).toBeCloseTo(5 * (25.4 / 18 - 1.5), 9)
    // 3.5 - 3.3 mm, uncertainty sqrt(0.03^2 + 0.04^2).
    expect(square.compared[0].deviation.mm).toBeCloseTo(0.2, 9)
    expect(square.compared[0].deviation.plusMinus.mm).toBeCloseTo(0.05, 9)
    const narrow = await anyone('GET', `/v1/parts/${id}/candidates?tolerance=0.3`)
    expect(narrow.body.candidates[0].interfacePairs).toHaveLength(1)
    const one = await anyone('GET', `/v1/parts/${id}/candidates?limit=1`)
    expect([one.body.candidates.length, one.body.complete]).toEqual([1, false])
  })

  test('are none for a part without interfaces, and 404 for an unknown part', async () => {
    const { id } = await recorded({ interfaces: [] })
    expect((await anyone('GET', `/v1/parts/${id}/candidates`)).body.candidates).toEqual([])
    expect((await anyone('GET', '/v1/parts/nothing/candidates')).status).toBe(404)
  })

  test('are symmetric: each part of a pair finds the other', async () => {
    await fc.assert(
      fc.asyncProperty(anyPart, anyPart, async (a, b) => {
        const [one, other] = [await club('POST', '/v1/parts', a), await club('POST', '/v1/parts', b)]
        const finds = async (id: string, wanted: string) => {
          const { body } = await anyone('GET', `/v1/parts/${id}/candidates?tolerance=10&limit=200`)
          return body.candidates.some((found: { part: { id: string } }) => found.part.id === wanted)
        }
        expect(await finds(one.body.id, other.body.id)).toBe(await finds(other.body.id, one.body.id))
        for (const { body } of [one, other]) {
          await club('DELETE', `/v1/parts/${body.id}`, undefined, { 'if-match': '*' })
        }
      }),
      { numRuns: 30 },
    )
  })
})

describe('POST /v1/parts/bolt-circle', () => {
  test('five holes, 67.2 mm apart: 67.2 / sin 36 deg = 114.33 mm', async () => {
    const answer = await club('POST', '/v1/parts/bolt-circle', {
      bolts: 5,
      chord: { mm: 67.2, plusMinus: 0.1 },
    })
    expect(answer.status).toBe(200)
    // sin 36 deg = sqrt(10 - 2 sqrt 5)/4, exactly.
    const sine = Math.sqrt(10 - 2 * Math.sqrt(5)) / 4
    expect(answer.body.circleDiameter.mm).toBeCloseTo(67.2 / sine, 9)
    expect(answer.body.circleDiameter.plusMinus.mm).toBeCloseTo(0.1 / sine, 9)
  })

  test('more steps than half the holes are refused', async () => {
    const answer = await club('POST', '/v1/parts/bolt-circle', { bolts: 5, steps: 3, chord: { mm: 67 } })
    expect(answer.body).toMatchObject({ status: 422, code: 'out-of-range' })
  })
})

describe('a table of parts', () => {
  const csv =
    'kind,name,teeth,interface,gender,form,sizeMm,thread\r\ndriven-gear,Gear,21,shaft,male,round,11.1,\r\n,,,thread,male,,,7/8-18\r\nhead,Head,,,,,,\r\n'

  test('is stored as a whole; a further row is a further interface', async () => {
    const answer = await club('POST', '/v1/parts/import', csv, table)
    expect(answer.status, answer.text).toBe(200)
    expectDocumented('importParts', answer)
    expect(answer.body).toMatchObject({ created: 2, problemCount: 0, rows: [{ line: 2 }, { line: 4 }] })
    const { body } = await anyone('GET', `/v1/parts/${answer.body.rows[0].id}`)
    expect(body).toMatchObject({
      name: 'Gear',
      teeth: 21,
      interfaces: [
        { kind: 'shaft', form: 'round', size: { mm: 11.1 }, gender: 'male' },
        { kind: 'thread', designation: '7/8-18', gender: 'male' },
      ],
    })
  })

  test('with faults stores nothing and reports each cell by line, column and value', async () => {
    const bad =
      'kind,name,teeth,interface,bolts,circleDiameterMm,boltHoleMm\nhead,Good,,,,,\ngizmo,Bad,21.5,bolt-circle,4,100,x\nhub,Hub,,bolt-circle,6,100,60\n'
    const answer = await club('POST', '/v1/parts/import', bad, table)
    expectDocumented('importParts', answer)
    expect(answer.body).toMatchObject({ status: 422, code: 'table-not-stored' })
    expect(answer.body.errors).toMatchObject([
      { line: 3, column: 'boltHoleMm', value: 'x', code: 'wrong-type', pointer: '#/3/boltHoleMm' },
      { line: 3, column: 'kind', value: 'gizmo', code: 'not-in-list' },
      { line: 3, column: 'teeth', value: '21.5', code: 'wrong-type' },
      { line: 4, column: 'boltHoleMm', value: '60', code: 'part-impossible' },
    ])
    expect((await anyone('GET', '/v1/parts')).body.parts).toEqual([])
    const dry = await club('POST', '/v1/parts/import?dryRun=true', bad, table)
    expectDocumented('importParts', dry)
    expect(dry.body).toMatchObject({ dryRun: true, created: 1, problemCount: 4 })
    expect((await anyone('GET', '/v1/parts')).body.parts).toEqual([])
    const partial = await club('POST', '/v1/parts/import?partial=true', bad, table)
    expect(partial.body).toMatchObject({ dryRun: false, created: 1, problemCount: 4 })
    expect(names(await anyone('GET', '/v1/parts'))).toEqual(['Good'])
  })

  test('exported, changed in one cell and imported again changes that part; a stale export does not', async () => {
    await recorded({ name: 'A' })
    await recorded({ name: 'B' })
    const exported = await anyone('GET', '/v1/parts/export')
    expect(exported.headers['content-type']).toMatch(/^text\/csv/)
    const changed = exported.text.replace('B,Quillfeather', 'C,Quillfeather')
    const answer = await club('POST', '/v1/parts/import', changed, table)
    expect(answer.body).toMatchObject({ created: 0, replaced: 1, unchanged: 1 })
    expect(names(await anyone('GET', '/v1/parts'))).toEqual(['A', 'C'])
    const stale = await club('POST', '/v1/parts/import', exported.text, table)
    expect(stale.body).toMatchObject({ status: 422, code: 'table-not-stored' })
    expect(stale.body.errors).toMatchObject([
      { line: 3, column: 'version', value: '1', code: 'stale-version' },
    ])
    const theirs = await shop(
      'POST',
      '/v1/parts/import',
      changed.replace('C,Quillfeather', 'D,Quillfeather'),
      table,
    )
    expect(theirs.body.errors).toMatchObject([{ line: 3, code: expect.stringMatching(/not-owner|stale/) }])
  })

  // Both took interfaces, maker and number away from parts, and answered 200.
  test('exported, then sorted or with columns left out, is refused and deletes nothing', async () => {
    const interfaces = [
      { kind: 'shaft', form: 'round', size: { mm: 11.1 }, gender: 'male' },
      { kind: 'thread', designation: '7/8-18', gender: 'male' },
    ]
    await recorded({ name: 'A', number: '1', interfaces })
    await recorded({ name: 'B', number: '2', interfaces })
    const { text } = await anyone('GET', '/v1/parts/export')
    const [header, a, a2, b, b2] = text.trim().split('\r\n')
    const sorted = await club(
      'POST',
      '/v1/parts/import?partial=true',
      [header, a, b, a2, b2].join('\n'),
      table,
    )
    expectDocumented('importParts', sorted)
    expect(sorted.body).toMatchObject({ status: 422, code: 'table-not-stored' })
    expect(sorted.body.errors).toMatchObject([{ line: 4, column: 'id', value: a!.slice(0, 36) }])
    const few = [header, a].map((line) => line!.split(',').slice(0, 4).join(','))
    const lacking = await club('POST', '/v1/parts/import', few.join('\n'), table)
    expect(lacking.body).toMatchObject({ status: 400, code: 'malformed-csv' })
    expect(lacking.body.detail).toContain('add maker, number, teeth')
    expect((await anyone('GET', '/v1/parts/export')).text).toBe(text)
  })

  test('imported into an empty instance gives the same export, ids included, and the same parts', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(anyPart, { minLength: 1, maxLength: 4 }), async (parts: PartShape[]) => {
        await deleteAll(admin)
        await deleteAll(other)
        for (const part of parts) expect((await club('POST', '/v1/parts', part)).status).toBe(201)
        const exported = await anyone('GET', '/v1/parts/export')
        const imported = await other('POST', '/v1/parts/import', exported.text, table)
        expect(imported.body).toMatchObject({ created: parts.length })
        expect((await other('GET', '/v1/parts/export')).text).toBe(exported.text)
        const contents = async (client: Client) =>
          (await client('GET', '/v1/parts')).body.parts.map(
            ({ createdAt: _c, changedAt: _d, recordedBy: _r, ...rest }: Record<string, unknown>) => rest,
          )
        expect(await contents(other)).toEqual(await contents(club))
      }),
      { numRuns: 20 },
    )
  }, 120_000)

  test('with more parts than one read returns is exported completely', async () => {
    const rows = Array.from({ length: 450 }, (_, n) => `head,Head ${n}`)
    await club('POST', '/v1/parts/import', `kind,name\n${rows.join('\n')}\n`, table)
    const lines = (await anyone('GET', '/v1/parts/export')).text.trim().split('\r\n')
    expect(lines).toHaveLength(451)
    expect(lines.at(-1)).toContain('Head 449')
  })

  test('sent twice with the same Idempotency-Key is stored once', async () => {
    const headers = { ...table, 'idempotency-key': 'table' }
    const first = await club('POST', '/v1/parts/import', csv, headers)
    const second = await club('POST', '/v1/parts/import', csv, headers)
    expect(second.text).toBe(first.text)
    expect((await anyone('GET', '/v1/parts')).body.parts).toHaveLength(2)
  })

  test.each([
    ['JSON', '{"kind":"head"}', 'application/json', 415, 'unsupported-media-type'],
    [
      'Latin-1 bytes',
      Buffer.from('kind,name\nhead,Zahnr\xe4der\n', 'latin1'),
      'text/csv',
      400,
      'malformed-csv',
    ],
    ['another charset', csv, 'text/csv; charset=iso-8859-1', 415, 'unsupported-media-type'],
    ['an unknown column', 'kind,nome\nhead,x\n', 'text/csv', 400, 'malformed-csv'],
    ['a huge table', `kind,name\n${'x'.repeat(4_200_000)}`, 'text/csv', 413, 'body-too-large'],
  ])('in the form of %s is refused', async (_name, payload, type, status, code) => {
    const { headers } = await keyHeaders()
    const response = await app.inject({
      method: 'POST',
      url: '/v1/parts/import',
      headers: { ...headers, 'content-type': type },
      payload,
    })
    expect([response.statusCode, response.json().code]).toEqual([status, code])
  })

  test('is accepted by no other operation', async () => {
    expect((await club('POST', '/v1/parts', csv, table)).body).toMatchObject({
      status: 415,
      code: 'unsupported-media-type',
    })
  })

  async function keyHeaders() {
    await store.accounts.create('test', 'club')
    const issued = await store.keys.create('test', { account: 'club', label: 'x', role: 'editor' })
    return { headers: { authorization: `Bearer ${issued!.secret}` } }
  }
})
