import fc from 'fast-check'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { StoreError } from '../../src/db/store/errors.js'
import { type Answer, clientOf, newClient } from '../support/app.js'
import { type Operation, operationOf, operations, readOpenApi } from '../support/contract.js'
import { expectDocumented, likeOf } from '../support/documented.js'
import { expectProblem } from '../support/problem.js'
import { anyRequest, type Request, type Stored, send, storeSome, validRequest } from '../support/requests.js'
import { aVehicle } from '../support/vehicles.js'
import { kindOf, NO_ID, tireSizeRow, World } from '../support/world.js'

/**
 * Every answer that the document lists, called forth: a status that nothing here brings about, or that comes with headers or
 * a body other than the document says, fails. What a status is for is tested beside each route.
 */
const document = readOpenApi()

/** A clock that can stop working, which no route expects. */
let clockWorks = true
function clock(): number {
  if (clockWorks) return Date.now()
  throw new Error('the clock of the machine cannot be read')
}

let world: World
let stored: Stored
/** The same with a rate that is soon used up. */
let limited: World
beforeAll(async () => {
  // With limits, so that answers say what is left of them.
  world = await World.make(
    {
      WORKERS: '1',
      COMPUTATIONS_PER_CALLER: '20',
      BATCHES: '1',
      BATCHES_PER_CALLER: '1',
      BATCH_BYTES: String(2 * 1024 * 1024),
      RATE_PER_ADDRESS: '1000000',
      RATE_PER_KEY: '1000000',
    },
    clock,
  )
  limited = await World.make({ RATE_PER_ADDRESS: '2', RATE_PER_KEY: '2' })
  stored = await storeSome(world)
})
afterAll(() => Promise.all([world.app.close(), limited.app.close()]))

/** Does something while every unit of work of the store fails, as on a disk that is full. */
async function failing<T>(act: () => Promise<T>): Promise<T> {
  const { vehicles, calibrations, parts, fits, tireSizes, storedResponses, health } = world.store
  const stores: object[] = [vehicles, calibrations, parts, fits, tireSizes, storedResponses, health]
  const originals = stores.map((methods) => ({ ...methods }))
  for (const methods of stores)
    for (const name of Object.keys(methods))
      Object.assign(methods, { [name]: () => Promise.reject(new StoreError('unavailable', 'disk full')) })
  try {
    return await act()
  } finally {
    for (const [index, methods] of stores.entries()) Object.assign(methods, originals[index])
  }
}

/** Stored vehicles for which a calculation is not possible. */
interface Odd {
  /** A vehicle with a tire that no table has, whose head takes no pulses, without a calibration. */
  readonly vehicle: string
  readonly takenReference: string
  readonly takenSize: string
  readonly partInUse: string
}
let odd: Odd
beforeAll(async () => {
  const taken = tireSizeRow()
  await world.owner('POST', '/v1/tire-sizes', taken)
  const profile = aVehicle({ reference: 'taken', tires: { front: UNKNOWN_TIRE, rear: UNKNOWN_TIRE } })
  const made = await world.owner('POST', '/v1/vehicles', profile)
  const fit = await world.owner('GET', `/v1/fits/${stored.fits[0]!.id}`)
  odd = {
    vehicle: made.body.id,
    takenReference: 'taken',
    takenSize: taken.size,
    partInUse: fit.body.part,
  }
})

const withHeader = (request: Request, name: string, value: string): Request => ({
  ...request,
  headers: { ...request.headers, [name]: value },
})
const without = (request: Request, name: string): Request => {
  const { [name]: _, ...headers } = request.headers
  return { ...request, headers }
}
const withBody = (request: Request, fields: object): Request => ({
  ...request,
  body: { ...(request.body as object), ...fields },
})
const on = (request: Request, path: Record<string, string>): Request => ({
  ...request,
  path: { ...request.path, ...path },
})

/** A tire of which no rule and no table tells the diameter. */
const UNKNOWN_TIRE = { size: 'L78-15' }

const [PATH] = aVehicle().paths
/** Two paths of one name. */
const TWICE = { paths: [PATH, PATH] }

/** Requests that are well formed and cannot be answered, where no random one shows it soon. */
const IMPOSSIBLE: Readonly<Record<string, (request: Request) => Request>> = {
  checkVehicle: (request) => withBody(request, { tires: { front: UNKNOWN_TIRE, rear: UNKNOWN_TIRE } }),
  makeWorksheet: (request) => withBody(request, { tires: { front: UNKNOWN_TIRE, rear: UNKNOWN_TIRE } }),
  getVehicleWorksheet: (request) => on(request, { id: odd.vehicle }),
  evaluateDrivePath: (request) => withBody(request, { tire: UNKNOWN_TIRE }),
  solveDrivePath: (request) => withBody(request, { tire: UNKNOWN_TIRE }),
  computeGaugeError: (request) => withBody(request, { fitted: UNKNOWN_TIRE }),
  // A car that does not move.
  measureGpxTrack: (request) => ({
    ...request,
    body: String(request.body).replaceAll(/lat="[^"]*"/g, 'lat="52.00"'),
  }),
  createFit: (request) => withBody(request, { part: NO_ID }),
  createTireSize: (request) => withBody(request, { size: 'no size' }),
  replaceVehicle: (request) => withBody(request, TWICE),
  changeVehicle: (request) => withBody(request, TWICE),
  putVehicleByReference: (request) => on(request, { reference: 'another' }),
  checkSavedVehicle: (request) => on(request, { id: odd.vehicle }),
  getVehicleFirmwareConstants: (request) => on(request, { id: odd.vehicle }),
  applyCalibration: (request) => on(request, { id: odd.vehicle }),
  listTireSizes: (request) => ({ ...request, query: { size: 'no size' } }),
  replaceTireSize: (request) => withBody(request, { size: 'no size' }),
  replacePart: (request) =>
    withBody(request, { interfaces: [{ kind: 'thread', designation: 'no thread', gender: 'male' }] }),
  changePart: (request) =>
    withBody(request, { interfaces: [{ kind: 'thread', designation: 'no thread', gender: 'male' }] }),
}

/** Requests that contradict what is stored. */
const IN_CONFLICT: Readonly<Record<string, (request: Request) => Request>> = {
  replaceVehicle: (request) => withBody(request, { reference: odd.takenReference }),
  changeVehicle: (request) => withBody(request, { reference: odd.takenReference }),
  replaceTireSize: (request) => withBody(request, { size: odd.takenSize }),
  deletePart: (request) => on(request, { id: odd.partInUse }),
}

const LONG = {
  'application/json': 3,
  'text/csv': 5,
  'application/gpx+xml': 17,
  'application/x-ndjson': 3,
  'application/merge-patch+json': 1,
}

/** A simulation that takes a thread of its own, and a while. */
const longSimulation = {
  pulses: { perMile: 8000 },
  profile: [
    { t: { s: 0 }, speed: { mph: 60 } },
    { t: { s: 400 }, speed: { mph: 60 } },
  ],
}

/** Every thread busy and every place in the queue taken: what is asked then. */
async function whenBusy(act: () => Promise<Answer>): Promise<Answer> {
  const simulation = operationOf('simulateReading')
  const request = { ...validRequest(simulation, stored), body: longSimulation }
  const before = Array.from({ length: 20 }, () => send(world.owner, simulation, request))
  const answer = await act()
  await Promise.all(before)
  return answer
}

const longLog = (request: Request): Request => ({
  ...request,
  body: {
    periods: Array.from({ length: 100_000 }, (_, index) => 1000 + (index % 7)),
    unit: 'us',
    pulsesPerTurn: 8,
  },
})

const longTrack = (request: Request): Request => ({
  ...request,
  body: { points: Array.from({ length: 3000 }, (_, index) => ({ lat: 48 + index * 1e-4, lon: 11 })) },
})

/** A text that is read in a thread, for its length. */
const longText = (request: Request): Request => ({ ...request, body: request.body + '\n'.repeat(60_000) })

/** A comparison of more rows than the request thread computes. */
const manyTires = {
  from: { size: '165R13' },
  to: Array.from({ length: 50 }, () => ({ size: '175/70R13' })),
  speeds: [{ kmh: 50 }, { kmh: 100 }],
}

/** A search that is done in a thread of its own. */
/** A box in surroundings that are not known well, and a table of the error of a dial that is long: both are computed in a thread. */
const uncertainBox = { place: 'engine-compartment', power: { w: 1 }, surface: { cm2: 200 } }
const manySpeeds = {
  indicatedPerTrue: 1.05,
  speeds: Array.from({ length: 60 }, (_, index) => ({ kmh: index + 20 })),
}
const manyWheels = { ratio: 1.016054, teeth: { min: 101, max: 200 } }

/** How each status is called forth, of any operation. */
const RECIPES: Readonly<Record<string, (operation: Operation, valid: Request) => Promise<Answer>>> = {
  200: async (operation, valid) => {
    // A put by reference answers so when the same is there already.
    if ('201' in operation.spec.responses) await send(world.owner, operation, valid)
    return send(world.owner, operation, valid)
  },
  201: (operation, valid) => send(world.owner, operation, valid),
  204: async (operation, valid) =>
    send(world.owner, operation, { ...valid, path: await world.create(kindOf(operation.path)) }),
  304: (operation, valid) => send(world.owner, operation, withHeader(valid, 'if-none-match', '*')),
  400: (operation, valid) =>
    send(world.owner, operation, { ...valid, query: { ...valid.query, misspelt: 1 } }),
  401: (operation, valid) => send(clientOf(world.app, 'no key of ours'), operation, valid),
  403: (operation, valid) => send(world.reader, operation, valid),
  404: (operation, valid) =>
    send(
      world.owner,
      operation,
      on(valid, operation.path.includes('{code}') ? { code: 'none' } : { id: NO_ID }),
    ),
  406: (operation, valid) => send(world.owner, operation, withHeader(valid, 'accept', 'image/png')),
  409: async (operation, valid) => {
    const conflict = IN_CONFLICT[operation.spec.operationId]
    if (conflict !== undefined) return send(world.owner, operation, conflict(valid))
    const same = withHeader(valid, 'idempotency-key', `at-once-${operation.spec.operationId}`)
    // With two keys of the account: the tables of one key wait for each other.
    const second = await newClient(world.app, world.store, 'owner')
    const answers = await Promise.all([send(world.owner, operation, same), send(second, operation, same)])
    return answers.find(({ status }) => status === 409) ?? answers[0]!
  },
  412: async (operation, valid) => {
    if (operation.spec.operationId === 'putVehicleByReference') await send(world.owner, operation, valid)
    return send(world.owner, operation, withHeader(valid, 'if-match', '"4711"'))
  },
  413: (operation, valid) => {
    const mediaType = valid.headers['content-type'] as keyof typeof LONG
    const mebibytes = /Track$|^analyzeLog/.test(operation.spec.operationId) ? 17 : LONG[mediaType]
    return send(world.owner, operation, { ...valid, body: 'x'.repeat(mebibytes * 1024 * 1024 + 1) })
  },
  415: (operation, valid) => send(world.owner, operation, withHeader(valid, 'content-type', 'text/html')),
  422: async (operation, valid) => {
    const impossible = IMPOSSIBLE[operation.spec.operationId]
    if (impossible !== undefined) return send(world.owner, operation, impossible(valid))
    if (operation.spec.parameters?.some(({ name }) => name === 'idempotency-key')) {
      const key = `for-${operation.spec.operationId}`
      await send(world.owner, operation, withHeader(valid, 'idempotency-key', key))
      const other =
        typeof valid.body === 'string'
          ? { ...valid, body: `${valid.body}\n` }
          : withBody(valid, { notes: 'x' })
      return send(world.owner, operation, withHeader(other, 'idempotency-key', key))
    }
    for (const request of fc.sample(anyRequest(operation, stored), 500)) {
      const answer = await send(world.owner, operation, request)
      if (answer.status === 422) return answer
    }
    return send(world.owner, operation, valid)
  },
  428: async (operation, valid) => {
    if (operation.spec.operationId !== 'putVehicleByReference')
      return send(world.owner, operation, without(valid, 'if-match'))
    await send(world.owner, operation, valid)
    return send(world.owner, operation, withBody(valid, { notes: 'another profile' }))
  },
  // Also of addresses whose rate is not limited: guesses of keys are.
  429: async (operation, valid) => {
    const guesser = clientOf(limited.app, 'no key of ours')
    for (let n = 0; n < 2; n++) await send(guesser, operation, valid)
    return send(guesser, operation, valid)
  },
  500: async (operation, valid) => {
    clockWorks = false
    try {
      return await send(world.owner, operation, valid)
    } finally {
      clockWorks = true
    }
  },
  503: async (operation, valid) => {
    if (/^checkVehicles$|^checkVehicleLines$/.test(operation.spec.operationId)) {
      // One batch at once is admitted here.
      const clients = [world.owner, world.other, world.admin]
      const answers = await Promise.all(clients.map((client) => send(client, operation, valid)))
      return answers.find(({ status }) => status === 503) ?? answers[0]!
    }
    if (operation.spec.operationId === 'simulateReading')
      return whenBusy(() => send(world.owner, operation, { ...valid, body: longSimulation }))
    if (operation.spec.operationId === 'findTrains')
      return whenBusy(() => send(world.owner, operation, { ...valid, body: manyWheels }))
    if (operation.spec.operationId === 'checkEnclosure')
      return whenBusy(() => send(world.owner, operation, { ...valid, body: uncertainBox }))
    if (operation.spec.operationId === 'computeGaugeError')
      return whenBusy(() => send(world.owner, operation, { ...valid, body: manySpeeds }))
    if (operation.spec.operationId === 'compareTires')
      return whenBusy(() => send(world.owner, operation, { ...valid, body: manyTires }))
    if (operation.spec.operationId === 'analyzeLog')
      return whenBusy(() => send(world.owner, operation, longLog(valid)))
    if (operation.spec.operationId === 'measureTrack')
      return whenBusy(() => send(world.owner, operation, longTrack(valid)))
    if (/^measureGpxTrack$|^analyzeLogTable$/.test(operation.spec.operationId))
      return whenBusy(() => send(world.owner, operation, longText(valid)))
    return failing(() => send(world.owner, operation, valid))
  },
}

for (const operation of operations(document)) {
  describe(operation.spec.operationId, () => {
    beforeAll(async () => {
      stored = await storeSome(world)
    })

    for (const status of Object.keys(operation.spec.responses)) {
      test(`answers ${status}`, async () => {
        const recipe = RECIPES[status]
        if (recipe === undefined) throw new Error(`nothing here brings about ${status}`)
        const answer = await recipe(operation, validRequest(operation, stored))
        expect(answer.status, answer.text.slice(0, 500)).toBe(Number(status))
        expectDocumented(operation.spec.operationId, answer)
        if (answer.status >= 400) expectProblem(likeOf(answer), answer.status, answer.body.code)
      })
    }
  })
}
