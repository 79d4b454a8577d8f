import { withPointer } from '../domain/errors.js'
import { checkPathNames } from '../domain/vehicles/given-vehicle.js'
import type { BatchSource } from '../http/batches.js'
import { NDJSON } from '../http/ndjson.js'
import { isHeavyToRead, JSON_TYPE, type RawBody } from '../http/raw-body.js'
import { AS_LINES, AS_OBJECT, listed, refOf, vehicleLinesOf } from '../http/vehicle-batches.js'
import { ref } from '../schemas/named-shapes.js'
import { problems } from '../schemas/problems.js'
import { LONG } from '../schemas/rate-weights.js'
import {
  BatchAnswerLine,
  BatchLine,
  type BatchLineShape,
  JSON_BATCH_LIMIT,
  MAX_IN_JSON,
  VehicleBatch,
  VehicleBatchAnswer,
} from '../schemas/vehicle-batches.js'
import { checkAnswers } from './batch-answers.js'
import { checker } from './checked.js'
import type { App, Batches, RouteOptions } from './options.js'
import { vehicleCheck } from './vehicle-check.js'

/** One schema object, so that its validator is compiled once. */
const LINE = ref(BatchLine)

const isLines = (body: unknown): body is BatchSource =>
  typeof body === 'object' && body !== null && 'blocks' in body && typeof body.blocks === 'function'

export async function vehicleBatchRoutes(app: App, options: RouteOptions, batches: Batches): Promise<void> {
  // In its own scope, since only this operation accepts NDJSON.
  await app.register(async (scope) => {
    batches.takeLines(scope)
    options.takeRaw(scope, [JSON_TYPE])
    batchRoute(scope as unknown as App, options, batches)
  })
}

function batchRoute(app: App, options: RouteOptions, batches: Batches): void {
  app.post(
    '/v1/vehicle-checks/batch',
    {
      bodyLimit: JSON_BATCH_LIMIT,
      config: { neverAnswers: [406, 422] },
      schema: {
        operationId: 'checkVehicles',
        ...LONG,
        summary: 'Check thousands of vehicles',
        description: `Checks each vehicle as POST /v1/vehicle-checks does, and answers in the same order. An invalid vehicle gets a problem on its line, with pointers into that line; the others are not affected. Nothing is stored.

As ${NDJSON}: one vehicle per line, { "ref"?, "vehicle" }, up to a million lines. The answer streams while the request does, so read while you send: a client that sends everything before it reads blocks both sides, and the service closes the connection. Status 200 says only that the batch began. The last line is the summary: without it the answer was cut off; with complete: false the lines after those counted were not processed. Blank lines are counted and skipped.

As application/json, for callers that cannot stream: up to ${MAX_IN_JSON} vehicles, ${JSON_BATCH_LIMIT / 1024 / 1024} MiB; one object back.`,
        tags: ['vehicle-checks'],
        body: {
          content: {
            'application/json': { schema: ref(VehicleBatch) },
            [NDJSON]: { schema: LINE },
          },
        },
        response: {
          200: {
            description: 'The check or the problem of each vehicle, and the summary.',
            content: {
              'application/json': { schema: ref(VehicleBatchAnswer) },
              [NDJSON]: { schema: ref(BatchAnswerLine) },
            },
          },
          ...problems(503),
        },
      },
    },
    async (request, reply) => {
      const body: unknown = request.body
      const faultOf = checker(request, LINE)
      const answer = checkAnswers(request, reply, batches, async (value, line) => {
        const given = refOf(value)
        if (given !== undefined) line.ref = given
        const fault = faultOf(value)
        if (fault !== undefined) throw fault
        const { vehicle } = value as BatchLineShape
        withPointer('/vehicle', () => checkPathNames(vehicle))
        return vehicleCheck(options, vehicle, '/vehicle')
      })
      if (isLines(body)) batches.answerBatch(request, reply, { source: body, answer, framing: AS_LINES })
      else {
        const raw = body as RawBody
        const lines = isHeavyToRead(raw)
          ? await options.runJob(request, 'vehicleLines', raw)
          : vehicleLinesOf(raw, options.readJson)
        const source = { blocks: () => listed(lines) }
        batches.answerBatch(request, reply, { source, answer, framing: AS_OBJECT })
      }
      return reply
    },
  )
}
