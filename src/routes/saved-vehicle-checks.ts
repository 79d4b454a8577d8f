import type { Page, Vehicle } from '../db/store.js'
import { preferred } from '../http/accept.js'
import type { BatchRun, BatchSource, Block } from '../http/batches.js'
import { NDJSON } from '../http/ndjson.js'
import { profileOf } from '../http/saved-vehicles.js'
import { varyBy } from '../http/vary.js'
import { AS_LINES, AS_OBJECT } from '../http/vehicle-batches.js'
import { VARY } from '../schemas/answers.js'
import { ref } from '../schemas/named-shapes.js'
import { LONG } from '../schemas/rate-weights.js'
import { KEY_NEEDED } from '../schemas/stored.js'
import { SavedCheckLine, SavedChecksAnswer, SavedChecksQuery } from '../schemas/vehicle-batches.js'
import { checkAnswers } from './batch-answers.js'
import type { App, Batches, RouteOptions } from './options.js'
import { authorOf } from './stored-responses.js'
import { vehicleCheck } from './vehicle-check.js'

/** One schema object, so that its serializer is compiled once. */
const LINE = ref(SavedCheckLine)

/** Vehicles read from the store at a time. */
const PAGE = 100

/** Default number of vehicles in a JSON response. */
const DEFAULT_IN_JSON = 50

type ReadPage = (after: string | undefined, limit: number) => Promise<Page<Vehicle>>

/** Reads stored vehicles page by page, up to a maximum. */
class StoredVehicles implements BatchSource {
  /** The last vehicle read, and whether more follow. */
  private position: string | undefined
  private more = false
  private readonly first: Page<Vehicle>
  private readonly readPage: ReadPage
  private readonly maxVehicles: number
  private readonly cursorAt: (position: string) => string

  constructor(
    first: Page<Vehicle>,
    readPage: ReadPage,
    maxVehicles: number,
    cursorAt: (position: string) => string,
  ) {
    this.first = first
    this.readPage = readPage
    this.maxVehicles = maxVehicles
    this.cursorAt = cursorAt
  }

  async *blocks({ signal }: BatchRun): AsyncGenerator<Block, void> {
    let page = this.first
    let line = 0
    for (;;) {
      this.more = true
      const from = line
      yield page.items.map((vehicle, index) => ({
        line: from + index + 1,
        read: () => {
          this.position = vehicle.id
          return vehicle
        },
      }))
      line += page.items.length
      this.more = page.next !== undefined
      if (page.next === undefined || line === this.maxVehicles || signal.aborted) return
      page = await this.readPage(page.next, Math.min(PAGE, this.maxVehicles - line))
    }
  }

  summary(): { next?: string } {
    return this.more && this.position !== undefined ? { next: this.cursorAt(this.position) } : {}
  }
}

export function savedVehicleCheckRoutes(app: App, options: RouteOptions, batches: Batches): void {
  const { vehicles } = options.store

  app.get(
    '/v1/vehicles/checks',
    {
      schema: {
        operationId: 'checkSavedVehicles',
        ...LONG,
        summary: 'Check the stored vehicles',
        description: `Checks each vehicle of the account as GET /v1/vehicles/{id}/check does, in the order of creation; make and model select some. Pointers are into the profile. Each vehicle is checked in the version that is stored when its turn comes.

As ${NDJSON} (the default) all of them in one stream. The last line is the summary: without it the answer was cut off; with complete: false the rest was not checked, and next continues it. As application/json in pages.`,
        tags: ['vehicles'],
        security: KEY_NEEDED,
        querystring: SavedChecksQuery,
        response: {
          200: {
            description: 'The check of each vehicle, and the summary.',
            headers: VARY,
            content: {
              'application/json': { schema: ref(SavedChecksAnswer) },
              [NDJSON]: { schema: LINE },
            },
          },
        },
      },
    },
    async (request, reply) => {
      const mediaType = preferred(request.headers.accept, [NDJSON, 'application/json'])
      const { accountId } = authorOf(request)
      const { limit, cursor, ...filter } = request.query
      const framing = mediaType === NDJSON ? AS_LINES : AS_OBJECT
      const maxVehicles = limit ?? (framing === AS_LINES ? Number.POSITIVE_INFINITY : DEFAULT_IN_JSON)
      const list = [accountId, 'vehicle-checks', filter.make, filter.model]
      const readPage: ReadPage = (after, count) =>
        vehicles.list(accountId, filter, after === undefined ? { limit: count } : { limit: count, after })
      const after = cursor === undefined ? undefined : options.cursors.read(list, cursor)
      // Before the response starts, so that a failure of the store can still set its status.
      const first = await readPage(after, Math.min(PAGE, maxVehicles))
      const source = new StoredVehicles(first, readPage, maxVehicles, (id) => options.cursors.write(list, id))
      const answer = checkAnswers(request, reply, batches, LINE, (value, line) => {
        const vehicle = value as Vehicle
        const profile = profileOf(vehicle)
        line.id = vehicle.id
        line.version = vehicle.version
        if (profile.reference !== undefined) line.reference = profile.reference
        return vehicleCheck(options, profile)
      })
      batches.answerBatch(request, varyBy(reply, 'accept'), { source, answer, framing })
      return reply
    },
  )
}
