import type { Role, Store } from '../../src/db/store.js'
import { type Answer, type Client, clientOf, newClient, type TestApp, testAppWithStore } from './app.js'
import { aVehicle } from './vehicles.js'

/** Kinds of resources, by the path of their list. */
export const KINDS = ['vehicles', 'calibrations', 'parts', 'fits', 'tire-sizes'] as const
export type Kind = (typeof KINDS)[number]

/** Values of path parameters. */
export type Params = Readonly<Record<string, string>>

/** The kind of resource that a path is about. */
export function kindOf(path: string): Kind {
  if (path.includes('{calibrationId}')) return 'calibrations'
  return KINDS.find((kind) => path.startsWith(`/v1/${kind}`))!
}

/** A well-formed id that no resource has. */
export const NO_ID = '00000000-0000-7000-8000-000000000000'

export const readings = (extra: object = {}) => ({
  path: 'speedometer',
  on: 'road',
  accepted: true,
  readings: [
    { indicated: { mph: 32 }, true: { mph: 30 } },
    { indicated: { mph: 53 }, true: { mph: 50 } },
  ],
  model: 'proportional',
  ...extra,
})

let sizes = 0
/** A tire size that no table has and no other test of this process uses. */
export function anotherSize(): string {
  const n = sizes++
  return `${185 + Math.floor(n / 360)}/${20 + (n % 60)}R${13 + (Math.floor(n / 60) % 6)}`
}

export const aPart = (extra: object = {}) => ({
  kind: 'driven-gear',
  name: 'Driven gear, 21 teeth',
  teeth: 21,
  interfaces: [{ kind: 'thread', designation: '7/8-18', gender: 'male' }],
  ...extra,
})

export const tireSizeRow = (extra: object = {}) => ({
  size: anotherSize(),
  overallDiameter: { mm: 640 },
  construction: 'radial',
  source: 'Measured on four tires',
  ...extra,
})

export const aFit = (part: string, extra: object = {}) => ({
  part,
  vehicle: { make: 'Fennimark', model: 'Dorsel Two' },
  result: 'fits-with-work',
  evidence: 'measured',
  ...extra,
})

/** The mechanical path of any vehicle, and one that carries pulses. */
const PATHS = [
  ...aVehicle().paths,
  {
    name: 'display',
    axle: 'rear',
    stages: [{ kind: 'pulse-ring', pulsesPerTurn: 8 }],
    head: { input: 'pulses', constant: { perMile: 6000 }, unit: 'mph' },
    pulse: { zeroTimeout: { ms: 500 }, timerTick: { us: 1 } },
  },
]

let references = 0
/** A reference that no other test of this process uses. */
export const anotherReference = () => `JOB-${++references}`

const made = (answer: Answer): Answer => {
  if (answer.status !== 201) throw new Error(`expected 201, got ${answer.status} ${answer.text}`)
  return answer
}

/** An application with two accounts, a key of each role, and functions to create a resource of every kind. */
export class World {
  readonly app: TestApp
  /** The editor who creates the resources. */
  readonly owner: Client
  readonly reader: Client
  readonly admin: Client
  /** An editor of another account. */
  readonly other: Client
  readonly nobody: Client
  readonly store: Store

  private constructor(app: TestApp, store: Store, clients: Record<Role | 'other' | 'nobody', Client>) {
    this.app = app
    this.store = store
    this.owner = clients.editor
    this.reader = clients.reader
    this.admin = clients.admin
    this.other = clients.other
    this.nobody = clients.nobody
  }

  static async make(environment: Record<string, string> = {}, clock = Date.now): Promise<World> {
    const { app, store } = await testAppWithStore(environment, clock)
    const client = (account: string, role: Role) => newClient(app, store, account, role)
    return new World(app, store, {
      editor: await client('owner', 'editor'),
      reader: await client('owner', 'reader'),
      admin: await client('board', 'admin'),
      other: await client('other', 'editor'),
      nobody: clientOf(app, undefined),
    })
  }

  /**
   * Creates another resource of a kind, with those that it needs.
   *
   * @param text - Put into every free text
   */
  async create(kind: Kind, text = 'as found'): Promise<Params> {
    const post = async (url: string, body: object) =>
      made(await this.owner('POST', url, body)).body.id as string
    switch (kind) {
      case 'vehicles':
        return {
          id: await post(
            '/v1/vehicles',
            aVehicle({
              name: text,
              notes: text,
              reference: anotherReference(),
              paths: PATHS,
              topSpeed: { mph: 100 },
            }),
          ),
          version: '1',
        }
      case 'calibrations': {
        const { id } = await this.create('vehicles', text)
        return {
          id: id!,
          calibrationId: await post(`/v1/vehicles/${id}/calibrations`, readings({ notes: text })),
        }
      }
      case 'parts':
        return { id: await post('/v1/parts', aPart({ notes: text })) }
      case 'fits': {
        const { id: part } = await this.create('parts', text)
        return { id: await post('/v1/fits', aFit(part!, { work: text })) }
      }
      case 'tire-sizes':
        return { id: await post('/v1/tire-sizes', tireSizeRow({ source: text })) }
    }
  }
}
