import { afterAll, beforeEach, describe, expect, test } from 'vitest'
import { type Client, newClient, testAppWithStore } from '../support/app.js'
import { handClock } from '../support/stores.js'
import { aVehicle } from '../support/vehicles.js'

const clock = handClock()
const { app, store } = await testAppWithStore({}, clock)
afterAll(() => app.close())

let account: string
let club: Client
let accounts = 0

// An account of its own for each test: they see nothing of each other.
beforeEach(async () => {
  account = `club ${++accounts}`
  club = await newClient(app, store, account)
})

const stored = async (extra: Record<string, unknown> = {}) =>
  (await club('POST', '/v1/vehicles', aVehicle(extra))).body

describe('a vehicle', () => {
  test('is stored as given, with id, version and times', async () => {
    const made = await club('POST', '/v1/vehicles', aVehicle())
    expect(made.status).toBe(201)
    expect(made.headers.etag).toBe('"1"')
    expect(made.headers.location).toBe(`/v1/vehicles/${made.body.id}`)
    const at = new Date(clock()).toISOString()
    expect(made.body).toEqual({ id: made.body.id, version: 1, createdAt: at, changedAt: at, ...aVehicle() })
    const read = await club('GET', `/v1/vehicles/${made.body.id}`)
    expect([read.status, read.text, read.headers.etag]).toEqual([200, made.text, '"1"'])
  })

  test('is returned character for character, in any language', async () => {
    const notes = 'Zählt: "⅓" \\ \u2028 𝟙 أ ﷺ </script> \n\t é é'
    const { id } = await stored({
      notes,
      make: 'ﷺ'.repeat(80),
      model: '\\u0000',
      reference: '\u00a0/%2F ?#é',
    })
    expect((await club('GET', `/v1/vehicles/${id}`)).body).toMatchObject({ notes, model: '\\u0000' })
    const found = await club('GET', `/v1/vehicles?reference=${encodeURIComponent('\u00a0/%2F ?#é')}`)
    expect(found.body.vehicles).toHaveLength(1)
  })

  // Found 2026-11-25: a make that was a space got a 500.
  test.each(['\u0000', 'a\u0007b', '\ud800', ' ', '\u2028'])(
    'is refused with a make of %j, and says where',
    async (make) => {
      const answer = await club('POST', '/v1/vehicles', aVehicle({ make }))
      expect([answer.status, answer.body.errors[0].pointer]).toEqual([400, '#/make'])
    },
  )

  // It "does not have the form it should", and what form that is was not said.
  test('with a malformed text is rejected with the form to give', async () => {
    const oneLine = 'expected text of one line that is not blank, without tabs and other control characters'
    const { id } = await stored()
    const fault = async (...call: Parameters<Client>) => (await club(...call)).body.errors[0]
    expect(await fault('POST', '/v1/vehicles', aVehicle({ name: '  ' }))).toMatchObject({
      pointer: '#/name',
      code: 'wrong-form',
      detail: `${oneLine}, got "  "`,
    })
    expect((await fault('POST', '/v1/vehicles', aVehicle({ name: '' }))).detail).toBe(`${oneLine}, got ""`)
    expect((await fault('POST', '/v1/vehicles', aVehicle({ reference: 'job\t1042' }))).detail).toBe(
      `${oneLine}, got "job\\t1042"`,
    )
    expect((await fault('POST', '/v1/vehicles', aVehicle({ notes: 'a\u0007' }))).detail).toMatch(
      /other than tabs and line breaks, got/,
    )
    expect((await fault('GET', '/v1/vehicles?make=%20')).detail).toBe(`${oneLine}, got " "`)
    expect(await fault('POST', '/v1/vehicles', aVehicle(), { 'idempotency-key': 'job 1042' })).toMatchObject({
      in: 'header',
      detail: 'expected ASCII letters, digits and signs, without spaces, got "job 1042"',
    })
    expect(await fault('PATCH', `/v1/vehicles/${id}`, {}, { 'if-match': '*' })).toMatchObject({
      pointer: '#',
      detail: expect.stringMatching(/^give at least 1 of name, .*; got none$/),
    })
  })

  // It was told that the vehicle had been changed meanwhile.
  test('is not changed with a weak ETag, and the problem names the ETag as the reason', async () => {
    const { id } = await stored()
    const change = (tag: string) => club('PATCH', `/v1/vehicles/${id}`, { notes: 'x' }, { 'if-match': tag })
    const weak = await change('W/"1"')
    expect([weak.status, weak.headers.etag]).toEqual([412, '"1"'])
    expect(weak.body.detail).toContain(
      'a weak tag never matches here (RFC 9110, 13.1.1): send the ETag without W/, "1".',
    )
    expect((await change('W/"2"')).body.detail).toContain('changed meanwhile: version 1 is stored now')
  })

  // It was taken; a calibration of that name went to the first, and none reached the second.
  describe('with two paths of one name', () => {
    const [path] = aVehicle().paths
    const twice = { paths: [path, path] }
    const refused = {
      status: 422,
      code: 'path-repeated',
      detail: expect.stringContaining('give each a name of its own'),
      errors: [{ pointer: '#/paths/1/name' }],
    }

    test('is rejected by every method', async () => {
      const { id } = await stored()
      const ifMatch = { 'if-match': '*' }
      for (const [method, url, body, headers] of [
        ['POST', '/v1/vehicles', aVehicle(twice)],
        ['PUT', '/v1/vehicles/by-reference/1042', aVehicle(twice)],
        ['PUT', `/v1/vehicles/${id}`, aVehicle(twice), ifMatch],
        ['PATCH', `/v1/vehicles/${id}`, twice, ifMatch],
        ['POST', '/v1/vehicle-checks', aVehicle(twice)],
        ['POST', '/v1/vehicle-checks/worksheet', aVehicle(twice)],
      ] as const) {
        expect((await club(method, url, body, headers)).body, `${method} ${url}`).toMatchObject(refused)
      }
      const { body } = await club('POST', '/v1/vehicle-checks/batch', {
        vehicles: [{ vehicle: aVehicle(twice) }],
      })
      expect(body.results[0].problem).toMatchObject({
        code: 'path-repeated',
        errors: [{ pointer: '#/vehicle/paths/1/name' }],
      })
    })

    test('stored earlier is still read and checked, and can be changed once a path is renamed', async () => {
      const { accountId, id: keyId } = (await store.keys.list()).find(
        ({ accountName }) => accountName === account,
      )!
      const profile = JSON.stringify(aVehicle(twice))
      const done = await store.vehicles.create({ accountId, keyId }, { profile })
      if (done.outcome !== 'created') throw new Error(done.outcome)
      const url = `/v1/vehicles/${done.vehicle.id}`
      expect((await club('GET', url)).status).toBe(200)
      expect((await club('GET', `${url}/check`)).body.paths).toHaveLength(2)
      const change = (body: object) => club('PATCH', url, body, { 'if-match': '*' })
      expect((await change({ notes: 'seen' })).body).toMatchObject(refused)
      expect((await change({ paths: [path, { ...path, name: 'second dial' }] })).status).toBe(200)
    })
  })

  test('is not found under an unknown id', async () => {
    for (const id of ['x', '018f0000-0000-7000-8000-000000000000', "' OR 1=1 --"]) {
      const answer = await club('GET', `/v1/vehicles/${encodeURIComponent(id)}`)
      expect([answer.status, answer.body.code]).toEqual([404, 'not-found'])
    }
  })

  test('that the client already has is not sent again', async () => {
    const { id } = await stored()
    for (const tag of ['"1"', 'W/"1"', '"7", "1"', '*']) {
      const answer = await club('GET', `/v1/vehicles/${id}`, undefined, { 'if-none-match': tag })
      expect([answer.status, answer.text, answer.headers.etag]).toEqual([304, '', '"1"'])
    }
    expect((await club('GET', `/v1/vehicles/${id}`, undefined, { 'if-none-match': '"2"' })).status).toBe(200)
  })

  test('that does not match its schema is rejected at the field', async () => {
    const answer = await club('POST', '/v1/vehicles', aVehicle({ year: 1700 }))
    expect(answer.status).toBe(400)
    expect(answer.body.errors).toMatchObject([{ in: 'body', pointer: '#/year', code: 'out-of-bounds' }])
  })
})

describe('a change of a vehicle', () => {
  const change = async (method: 'PUT' | 'PATCH' | 'DELETE', id: string, tag?: string) =>
    club(
      method,
      `/v1/vehicles/${id}`,
      method === 'DELETE'
        ? undefined
        : method === 'PUT'
          ? aVehicle({ notes: 'changed' })
          : { notes: 'changed' },
      tag === undefined ? {} : { 'if-match': tag },
    )

  for (const method of ['PUT', 'PATCH', 'DELETE'] as const) {
    test(`by ${method} needs If-Match with the current version`, async () => {
      const { id } = await stored()
      expect((await change(method, id)).body).toMatchObject({ status: 428, code: 'condition-required' })
      for (const stale of ['"2"', 'W/"1"', '"another"', '"1x"', '"01"']) {
        const answer = await change(method, id, stale)
        expect([answer.status, answer.body.code, answer.headers.etag]).toEqual([412, 'stale-version', '"1"'])
      }
      for (const malformed of ['1', '"1', '', '"1";"2"']) {
        const answer = await change(method, id, malformed)
        expect([answer.status, answer.body.errors?.[0]?.pointer]).toEqual([400, '#/if-match'])
      }
      expect((await club('GET', `/v1/vehicles/${id}`)).headers.etag).toBe('"1"')
      expect((await change(method, id, '"9", "1"')).status).toBe(method === 'DELETE' ? 204 : 200)
    })

    test(`by ${method} with If-Match: * changes any version`, async () => {
      const { id } = await stored()
      expect((await change(method, id, '*')).status).toBe(method === 'DELETE' ? 204 : 200)
    })

    test(`by ${method} of nothing is 404`, async () => {
      expect((await change(method, 'nothing', '*')).status).toBe(404)
    })
  }

  test('increments the version, updates changedAt and leaves createdAt', async () => {
    const { id, createdAt } = await stored()
    clock.advance(60_000)
    const put = await change('PUT', id, '"1"')
    expect(put.headers.etag).toBe('"2"')
    expect(put.body).toMatchObject({
      version: 2,
      createdAt,
      changedAt: new Date(clock()).toISOString(),
      notes: 'changed',
    })
  })

  test('merges a patch into the profile and validates the whole', async () => {
    const { id } = await stored({ notes: 'old', topSpeed: { mph: 80 } })
    const patch = {
      notes: null,
      topSpeed: { mph: 85 },
      tires: { rear: { size: null, rollingCircumference: { mm: 1760, plusMinus: 5 } } },
    }
    const done = await club('PATCH', `/v1/vehicles/${id}`, patch, {
      'if-match': '"1"',
      'content-type': 'application/merge-patch+json',
    })
    expect(done.status).toBe(200)
    const { id: _id, version: _v, createdAt: _c, changedAt: _a, ...profile } = done.body
    expect(profile).toEqual(
      aVehicle({
        topSpeed: { mph: 85 },
        tires: { front: { size: '165R13' }, rear: { rollingCircumference: { mm: 1760, plusMinus: 5 } } },
      }),
    )
  })

  test('by a patch that leaves an incomplete profile is rejected at the field, and changes nothing', async () => {
    const { id } = await stored()
    const faults: Array<[unknown, string]> = [
      [{ name: null }, '#/name'],
      [{ tires: { rear: null } }, '#/tires/rear'],
      [{ topSpeed: { mph: '80' } }, '#/topSpeed/mph'],
      [{ paths: [] }, '#/paths'],
      [{ engine: 'V8' }, '#/engine'],
      [{ tires: { spare: { size: '165R13' } } }, '#/tires/spare'],
      [{ tires: JSON.parse('{"__proto__": {"x": 1}}') }, '#/tires/__proto__'],
    ]
    for (const [patch, pointer] of faults) {
      const answer = await club('PATCH', `/v1/vehicles/${id}`, patch, { 'if-match': '*' })
      expect([answer.status, answer.body.errors?.[0]?.pointer]).toEqual([400, pointer])
    }
    expect((await club('GET', `/v1/vehicles/${id}`)).body.version).toBe(1)
  })

  test('to a reference already in use is rejected', async () => {
    const first = await stored({ reference: 'JOB-1' })
    const second = await stored({ reference: 'JOB-2' })
    for (const answer of [
      await club('POST', '/v1/vehicles', aVehicle({ reference: 'JOB-1' })),
      await club('PATCH', `/v1/vehicles/${second.id}`, { reference: 'JOB-1' }, { 'if-match': '*' }),
      await club('PUT', `/v1/vehicles/${second.id}`, aVehicle({ reference: 'JOB-1' }), { 'if-match': '*' }),
    ]) {
      expect([answer.status, answer.body.code]).toEqual([409, 'reference-taken'])
      expect(answer.body.detail).toContain(first.id)
    }
  })
})

describe('PUT /v1/vehicles/by-reference/{reference}', () => {
  const url = `/v1/vehicles/by-reference/${encodeURIComponent('JOB 2026/17 é')}`

  test('creates, answers the same again, and replaces only with If-Match', async () => {
    const made = await club('PUT', url, aVehicle())
    expect([made.status, made.body.reference, made.headers.etag]).toEqual([201, 'JOB 2026/17 é', '"1"'])
    const again = await club('PUT', url, aVehicle())
    expect([again.status, again.text]).toEqual([200, made.text])
    const bare = await club('PUT', url, aVehicle({ notes: 'more' }))
    expect([bare.status, bare.body.code, bare.headers.etag]).toEqual([428, 'condition-required', '"1"'])
    expect((await club('PUT', url, aVehicle({ notes: 'more' }), { 'if-match': '"3"' })).status).toBe(412)
    const any = await club('PUT', url, aVehicle({ notes: 'more' }), { 'if-match': '*' })
    expect([any.status, any.body.version, any.body.id]).toEqual([200, 2, made.body.id])
    const tagged = await club('PUT', url, aVehicle({ notes: 'most' }), { 'if-match': '"2"' })
    expect([tagged.status, tagged.body.version]).toEqual([200, 3])
  })

  test('with If-None-Match: * only creates; with If-Match only replaces', async () => {
    expect((await club('PUT', url, aVehicle(), { 'if-match': '*' })).status).toBe(412)
    expect((await club('PUT', url, aVehicle(), { 'if-none-match': '*' })).status).toBe(201)
    const again = await club('PUT', url, aVehicle(), { 'if-none-match': '*' })
    expect([again.status, again.body.code]).toEqual([412, 'stale-version'])
  })

  // Until 2026-11 the second request was told "It was changed meanwhile: ... send its ETag in If-Match".
  test('with If-None-Match: * says that there is such a vehicle, not that it was changed', async () => {
    await club('PUT', url, aVehicle(), { 'if-none-match': '*' })
    const again = await club('PUT', url, aVehicle(), { 'if-none-match': '*' })
    expect(again.body.detail).toBe(
      'If-None-Match asks for a new item, and version 1 is stored: to replace it, send its ETag "1" in If-Match instead.',
    )
  })

  test('rejects a body with another reference', async () => {
    const answer = await club('PUT', url, aVehicle({ reference: 'JOB-18' }))
    expect([answer.status, answer.body.code, answer.body.errors[0].pointer]).toEqual([
      422,
      'reference-mismatch',
      '#/reference',
    ])
  })

  test('by many at once creates one', async () => {
    const answers = await Promise.all(Array.from({ length: 20 }, () => club('PUT', url, aVehicle())))
    expect(answers.filter(({ status }) => status === 201)).toHaveLength(1)
    expect(new Set(answers.map(({ body }) => body.id)).size).toBe(1)
  })
})

describe('GET /v1/vehicles', () => {
  const all = async (query: string): Promise<string[]> => {
    const names: string[] = []
    let cursor = ''
    do {
      const page = await club('GET', `/v1/vehicles?${query}${cursor}`)
      expect(page.status, page.text).toBe(200)
      names.push(...page.body.vehicles.map(({ name }: { name: string }) => name))
      cursor = page.body.next === undefined ? '' : `&cursor=${page.body.next}`
    } while (cursor !== '')
    return names
  }

  test('lists every vehicle once, in the order of creation, for any page size', async () => {
    const names = Array.from({ length: 11 }, (_, n) => `car ${n}`)
    for (const name of names) await stored({ name })
    for (const limit of [1, 2, 3, 5, 10, 11, 12, 200]) expect(await all(`limit=${limit}`)).toEqual(names)
    expect(await all('')).toEqual(names)
  })

  test('filters by make, model and reference, ignoring case', async () => {
    await stored({ name: 'a', make: 'Tarvenna', model: 'Ostrel', reference: 'J1' })
    await stored({ name: 'b', make: 'TARVENNA', model: 'Ostrel Two' })
    await stored({ name: 'c', make: 'Ébrinne', model: 'Ostrel' })
    await stored({ name: 'd', make: undefined, model: undefined })
    expect(await all('make=tarvenna')).toEqual(['a', 'b'])
    expect(await all('make=tarvenna&limit=1')).toEqual(['a', 'b'])
    expect(await all(`make=${encodeURIComponent('E\u0301BRINNE')}`)).toEqual(['c'])
    expect(await all('model=Ostrel')).toEqual(['a', 'c'])
    expect(await all('make=Tarvenna&model=Ostrel%20Two')).toEqual(['b'])
    expect(await all('reference=J1')).toEqual(['a'])
    expect(await all('reference=j1')).toEqual([])
  })

  test('keeps pages stable while vehicles are added and deleted', async () => {
    const made = []
    for (let n = 0; n < 4; n++) made.push(await stored({ name: `car ${n}` }))
    const first = await club('GET', '/v1/vehicles?limit=2')
    await club('DELETE', `/v1/vehicles/${made[0].id}`, undefined, { 'if-match': '*' })
    await stored({ name: 'car 4' })
    const second = await club('GET', `/v1/vehicles?limit=2&cursor=${first.body.next}`)
    expect(second.body.vehicles.map(({ name }: { name: string }) => name)).toEqual(['car 2', 'car 3'])
  })

  test('rejects a limit of 0 and of more than 200', async () => {
    for (const limit of ['0', '201', '-1', 'x', '1.5']) {
      expect((await club('GET', `/v1/vehicles?limit=${limit}`)).status, limit).toBe(400)
    }
  })

  test('rejects a cursor that is invented, changed, or of another list', async () => {
    for (let n = 0; n < 3; n++) await stored({ name: `car ${n}` })
    const { next } = (await club('GET', '/v1/vehicles?limit=1')).body
    const other = await newClient(app, store, 'other')
    const forged = `${next.slice(0, -2)}${next.endsWith('AA') ? 'BB' : 'AA'}`
    for (const answer of [
      await club('GET', '/v1/vehicles?cursor=abc'),
      await club('GET', `/v1/vehicles?cursor=${forged}`),
      await club('GET', `/v1/vehicles?make=Tarvenna&cursor=${next}`),
      await other('GET', `/v1/vehicles?cursor=${next}`),
    ]) {
      expect([answer.status, answer.body.errors?.[0]?.pointer]).toEqual([400, '#/cursor'])
    }
  })
})

describe('revisions', () => {
  test('keep every state, its author and time, also after the vehicle is deleted', async () => {
    const { id } = await stored({ notes: 'first' })
    clock.advance(1000)
    await club('PATCH', `/v1/vehicles/${id}`, { notes: 'second' }, { 'if-match': '"1"' })
    clock.advance(1000)
    const boss = await newClient(app, store, account, 'admin')
    await boss('DELETE', `/v1/vehicles/${id}`, undefined, { 'if-match': '"2"' })
    const { revisions } = (await club('GET', `/v1/vehicles/${id}/revisions`)).body
    expect(revisions).toMatchObject([
      {
        version: 3,
        change: 'deleted',
        key: { label: `${account} admin` },
        at: new Date(clock()).toISOString(),
      },
      { version: 2, change: 'replaced', key: { label: `${account} editor` } },
      { version: 1, change: 'created', key: { label: `${account} editor` } },
    ])
    expect((await club('GET', `/v1/vehicles/${id}/revisions/1`)).body.vehicle).toMatchObject({
      notes: 'first',
      version: 1,
    })
    expect((await club('GET', `/v1/vehicles/${id}/revisions/2`)).body.vehicle).toMatchObject({
      notes: 'second',
      version: 2,
    })
    expect((await club('GET', `/v1/vehicles/${id}/revisions/3`)).body).not.toHaveProperty('vehicle')
    expect((await club('GET', `/v1/vehicles/${id}/revisions/4`)).status).toBe(404)
    expect((await club('GET', `/v1/vehicles/${id}`)).status).toBe(404)
  })

  test('come in pages', async () => {
    const { id } = await stored()
    for (let n = 0; n < 6; n++)
      await club('PATCH', `/v1/vehicles/${id}`, { notes: `n${n}` }, { 'if-match': '*' })
    const seen: number[] = []
    let cursor = ''
    do {
      const page = (await club('GET', `/v1/vehicles/${id}/revisions?limit=3${cursor}`)).body
      seen.push(...page.revisions.map(({ version }: { version: number }) => version))
      cursor = page.next === undefined ? '' : `&cursor=${page.next}`
    } while (cursor !== '')
    expect(seen).toEqual([7, 6, 5, 4, 3, 2, 1])
  })

  test('a deleted vehicle frees its reference', async () => {
    const first = await stored({ reference: 'JOB-1' })
    await club('DELETE', `/v1/vehicles/${first.id}`, undefined, { 'if-match': '*' })
    const second = await stored({ reference: 'JOB-1' })
    expect(second.id).not.toBe(first.id)
    expect(second.version).toBe(1)
  })
})

describe('many writers on one vehicle', () => {
  test('50 at once with If-Match: one version per accepted write, and each writer sees its own', async () => {
    const { id } = await stored()
    const accepted: string[] = []
    await Promise.all(
      Array.from({ length: 50 }, async (_, writer) => {
        for (let done = false; !done; ) {
          const read = await club('GET', `/v1/vehicles/${id}`)
          const notes = `${read.body.notes ?? ''}[${writer}]`
          const put = await club('PATCH', `/v1/vehicles/${id}`, { notes }, { 'if-match': read.headers.etag! })
          done = put.status === 200
          if (done) accepted.push(notes)
          else expect(put.status).toBe(412)
        }
      }),
    )
    const end = (await club('GET', `/v1/vehicles/${id}`)).body
    expect(accepted).toHaveLength(50)
    expect(end.version).toBe(1 + accepted.length)
    // Every writer's mark is there once: no accepted change was lost under another.
    for (let writer = 0; writer < 50; writer++) expect(end.notes.split(`[${writer}]`)).toHaveLength(2)
  })
})

describe('GET /v1/vehicles/{id}/check', () => {
  test('gives the same answer as the check of the same profile', async () => {
    const { id } = await stored()
    const saved = await club('GET', `/v1/vehicles/${id}/check`)
    const bare = await club('POST', '/v1/vehicle-checks', aVehicle())
    expect([saved.status, saved.headers.etag]).toEqual([200, '"1"'])
    expect(saved.body).toEqual(bare.body)
  })

  test('names the field of a profile that cannot be computed', async () => {
    const { id } = await stored({ tires: { front: { size: '165R13' }, rear: { size: 'round' } } })
    const answer = await club('GET', `/v1/vehicles/${id}/check`)
    expect([answer.status, answer.body.code, answer.body.errors[0].pointer]).toEqual([
      422,
      'tire-size-not-understood',
      '#/tires/rear/size',
    ])
  })
})
