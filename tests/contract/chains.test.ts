import fc from 'fast-check'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { mergePatch } from '../../src/http/merge-patch.js'
import type { Answer } from '../support/app.js'
import { expectDocumented } from '../support/documented.js'
import { CASES, TIMEOUT_MS } from '../support/properties.js'
import { aVehicle } from '../support/vehicles.js'
import {
  aFit,
  anotherReference,
  anotherSize,
  aPart,
  type Kind,
  readings,
  tireSizeRow,
  World,
} from '../support/world.js'

/**
 * Chains of requests against a simple model: a stored record equals what was last sent, under a version that counts
 * the changes; a change on another version is refused and changes nothing; what was deleted is gone for good, its revisions
 * are not; a request with an Idempotency-Key is done once.
 */
interface Thing {
  readonly kind: Kind
  readonly url: string
  body: Record<string, unknown>
  version: number
  gone: boolean
  /** Every state it had, the oldest first; undefined: deleted. */
  readonly states: Array<Record<string, unknown> | undefined>
}

let world: World
let part: string
beforeAll(async () => {
  world = await World.make()
  part = (await world.create('parts')).id!
})
afterAll(() => world.app.close())

/** What the service does with each kind, by operation. */
const OPERATIONS = {
  vehicles: {
    create: 'createVehicle',
    read: 'getVehicle',
    put: 'replaceVehicle',
    patch: 'changeVehicle',
    remove: 'deleteVehicle',
  },
  parts: {
    create: 'createPart',
    read: 'getPart',
    put: 'replacePart',
    patch: 'changePart',
    remove: 'deletePart',
  },
  fits: { create: 'createFit', read: 'getFit', remove: 'deleteFit' },
  'tire-sizes': {
    create: 'createTireSize',
    read: 'getTireSize',
    put: 'replaceTireSize',
    remove: 'deleteTireSize',
  },
  calibrations: { create: 'recordCalibration', read: 'getCalibration', patch: 'judgeCalibration' },
} as const satisfies Record<
  Kind,
  { create: string; read: string; put?: string; patch?: string; remove?: string }
>

type Change = 'put' | 'patch' | 'remove'
const has = (kind: Kind, change: Change): string | undefined =>
  (OPERATIONS[kind] as Record<string, string>)[change]

const bodies: Readonly<Record<Kind, (n: number) => Record<string, unknown>>> = {
  vehicles: (n) => aVehicle({ notes: `state ${n}`, reference: anotherReference() }),
  parts: (n) => aPart({ teeth: 1 + n }),
  fits: (n) => aFit(part, { work: `work ${n}`, author: 'club adviser', date: '2026-05-17' }),
  'tire-sizes': (n) => tireSizeRow({ overallDiameter: { mm: 600 + n }, size: anotherSize() }),
  calibrations: (n) => readings({ notes: `readings ${n}`, accepted: n % 2 === 0 }),
}

const patches: Readonly<Partial<Record<Kind, (n: number) => Record<string, unknown>>>> = {
  vehicles: (n) => (n % 3 === 0 ? { notes: null, model: `${n}` } : { notes: `patched ${n}` }),
  parts: (n) => (n % 3 === 0 ? { teeth: null } : { teeth: 1 + n }),
  calibrations: (n) => ({ accepted: n % 2 === 0 }),
}

const verb = { put: 'PUT', patch: 'PATCH', remove: 'DELETE' } as const

/** What an answer says of a thing, without what the service adds. */
function contentOf({ kind }: Thing, answer: Answer): Record<string, unknown> {
  const { id: _i, version: _v, createdAt: _c, changedAt: _h, recordedBy: _r, ...rest } = answer.body
  if (kind !== 'calibrations') return rest
  const { request, result: _s, ...judgement } = rest
  return { ...request, ...judgement }
}

interface Step {
  readonly what: 'create' | 'repeat' | 'read' | 'list' | Change
  readonly which: number
  readonly n: number
  readonly tag: 'current' | 'any' | 'weak' | 'stale' | 'none' | 'several'
  readonly by: 'owner' | 'other' | 'admin' | 'reader'
}

const step: fc.Arbitrary<Step> = fc.record({
  what: fc.constantFrom('create', 'repeat', 'read', 'read', 'list', 'put', 'put', 'patch', 'patch', 'remove'),
  which: fc.nat(1000),
  n: fc.nat(98),
  tag: fc.constantFrom('current', 'current', 'current', 'any', 'weak', 'stale', 'none', 'several'),
  by: fc.constantFrom('owner', 'owner', 'owner', 'owner', 'other', 'admin', 'reader'),
})

function headersFor(tag: Step['tag'], version: number): Record<string, string> {
  const current = `"${version}"`
  const tags = {
    current,
    any: '*',
    weak: `W/${current}`,
    stale: `"${version + 1}"`,
    several: `"7000", ${current}`,
  }
  return tag === 'none' ? {} : { 'if-match': tags[tag] }
}

/** What must come of a change, before anything is looked at in the body. */
function expected({ kind, gone }: Thing, change: Change, { tag, by }: Step): number {
  if (by === 'reader') return 403
  if (tag === 'none') return 428
  const isOwn = by === 'owner'
  const isPrivate = kind === 'vehicles' || kind === 'calibrations'
  if (gone || (isPrivate && !isOwn)) return 404
  // Another account's are not changed; an admin may change those that are shared.
  if (by === 'other') return 403
  if (tag === 'stale' || tag === 'weak') return 412
  return change === 'remove' ? 204 : 200
}

async function create(kind: Kind, n: number, things: Thing[], key?: string): Promise<void> {
  const body = bodies[kind](n)
  let list = `/v1/${kind}`
  if (kind === 'calibrations') {
    const vehicle = things.find((one) => one.kind === 'vehicles' && !one.gone)
    if (vehicle === undefined) return
    list = `${vehicle.url}/calibrations`
  }
  const headers = key === undefined ? {} : { 'idempotency-key': key }
  const answer = await world.owner('POST', list, body, headers)
  expect(answer.status, answer.text).toBe(201)
  expectDocumented(OPERATIONS[kind].create, answer)
  expect(answer.headers).toMatchObject({ etag: '"1"', location: `${list}/${answer.body.id}` })
  const thing: Thing = { kind, url: answer.headers.location!, body, version: 1, gone: false, states: [body] }
  expect(contentOf(thing, answer)).toEqual(body)
  things.push(thing)
  if (key === undefined) return
  const again = await world.owner('POST', list, body, headers)
  expect([again.status, again.text, again.headers['idempotency-replayed']]).toEqual([
    201,
    answer.text,
    'true',
  ])
  const other = await world.owner('POST', list, bodies[kind](n + 1), headers)
  expect([other.status, other.body.code]).toEqual([422, 'idempotency-key-reused'])
}

async function read(thing: Thing, by: Step['by']): Promise<void> {
  const answer = await world[by]('GET', thing.url)
  expectDocumented(OPERATIONS[thing.kind].read, answer)
  const isPrivate = thing.kind === 'vehicles' || thing.kind === 'calibrations'
  const mayRead = !isPrivate || by === 'owner' || by === 'reader'
  if (thing.gone || !mayRead) {
    expect(answer.status, answer.text).toBe(404)
    return
  }
  expect([answer.status, answer.headers.etag, answer.body.version]).toEqual([
    200,
    `"${thing.version}"`,
    thing.version,
  ])
  expect(contentOf(thing, answer)).toEqual(thing.body)
  if (thing.kind === 'calibrations') return
  const unchanged = await world[by]('GET', thing.url, undefined, { 'if-none-match': `W/"${thing.version}"` })
  expect([unchanged.status, unchanged.text]).toEqual([304, ''])
  const changed = await world[by]('GET', thing.url, undefined, { 'if-none-match': `"${thing.version + 1}"` })
  expect([changed.status, changed.text]).toEqual([200, answer.text])
}

async function change(thing: Thing, what: Change, taken: Step): Promise<void> {
  const operation = has(thing.kind, what)
  if (operation === undefined) return
  const sent =
    what === 'put'
      ? bodies[thing.kind](taken.n)
      : what === 'patch'
        ? patches[thing.kind]!(taken.n)
        : undefined
  const answer = await world[taken.by](verb[what], thing.url, sent, headersFor(taken.tag, thing.version))
  expectDocumented(operation, answer)
  expect(answer.status, answer.text).toBe(expected(thing, what, taken))
  if (answer.status === 412) expect(answer.headers.etag).toBe(`"${thing.version}"`)
  if (answer.status >= 400) return
  if (what === 'remove') {
    thing.gone = true
    thing.states.push(undefined)
    return
  }
  thing.body = (what === 'put' ? sent : mergePatch(thing.body, sent)) as Record<string, unknown>
  thing.version++
  thing.states.push(thing.body)
  expect([answer.headers.etag, answer.body.version]).toEqual([`"${thing.version}"`, thing.version])
  expect(contentOf(thing, answer)).toEqual(thing.body)
}

/** The ids of a list, page by page. */
async function idsIn(url: string, name: string): Promise<string[]> {
  const ids: string[] = []
  for (let next = ''; ; ) {
    const { body } = await world.owner(
      'GET',
      `${url}?limit=3${next === '' ? '' : `&cursor=${encodeURIComponent(next)}`}`,
    )
    ids.push(...body[name].map(({ id }: { id: string }) => id))
    if (body.next === undefined) return ids
    next = body.next
  }
}

const idOf = ({ url }: Thing) => url.split('/').at(-1)!

async function expectListed(kind: Kind, things: readonly Thing[]): Promise<void> {
  if (kind === 'fits' || kind === 'calibrations') return
  const listed = await idsIn(`/v1/${kind}`, kind === 'tire-sizes' ? 'tireSizes' : kind)
  expect(new Set(listed).size).toBe(listed.length)
  for (const thing of things.filter((one) => one.kind === kind))
    expect(listed.includes(idOf(thing)), thing.url).toBe(!thing.gone)
}

/** Revisions of vehicles stay, the deletion and what was before it among them. */
async function expectRevisions(thing: Thing): Promise<void> {
  if (thing.kind !== 'vehicles') return
  const { body } = await world.owner('GET', `${thing.url}/revisions?limit=200`)
  expect(body.revisions.map(({ version }: { version: number }) => version)).toEqual(
    thing.states.map((_, index) => thing.states.length - index),
  )
  for (const [index, state] of thing.states.entries()) {
    const revision = await world.owner('GET', `${thing.url}/revisions/${index + 1}`)
    expectDocumented('getVehicleRevision', revision)
    if (state === undefined) expect(revision.body).not.toHaveProperty('vehicle')
    else expect(revision.body.vehicle).toMatchObject(state)
  }
}

const ALL: readonly Kind[] = ['vehicles', 'parts', 'fits', 'tire-sizes', 'calibrations']
let keys = 0

for (const kind of ALL) {
  test(
    `any chain of requests on ${kind} does what the model does`,
    async () => {
      await fc.assert(
        fc.asyncProperty(fc.array(step, { minLength: 1, maxLength: 12 }), async (steps) => {
          const things: Thing[] = []
          if (kind === 'calibrations') await create('vehicles', 1, things)
          await create(kind, 0, things)
          for (const taken of steps) {
            const own = things.filter((one) => one.kind === kind)
            const thing = own[taken.which % own.length]!
            if (taken.what === 'create') await create(kind, taken.n, things)
            else if (taken.what === 'repeat') await create(kind, taken.n, things, `chain-${++keys}`)
            else if (taken.what === 'read') await read(thing, taken.by)
            else if (taken.what === 'list') await expectListed(kind, things)
            else await change(thing, taken.what, taken)
          }
          for (const thing of things) {
            await read(thing, 'owner')
            await expectRevisions(thing)
          }
          // So that lists stay short.
          for (const thing of things.filter((one) => !one.gone))
            await change(thing, 'remove', { what: 'remove', which: 0, n: 0, tag: 'any', by: 'owner' })
        }),
        { numRuns: Math.ceil(CASES / 5) },
      )
    },
    TIMEOUT_MS,
  )
}
