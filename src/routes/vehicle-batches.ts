import type { FastifyReply, FastifyRequest } from 'fastify'
import { withPointer } from '../domain/errors.js'
import { checkPathNames } from '../domain/vehicles/given-vehicle.js'
import type { Batch, BatchSource } from '../http/batches.js'
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

/** One schema object each, so that validator and serializer are compiled once. */
const LINE = ref(BatchLine)
const ANSWER_LINE = ref(BatchAnswerLine)

const tags = ['vehicle-checks']
const config = { neverAnswers: [422] as const }

const EACH_BY_ITSELF =
  'Checks each vehicle as POST /v1/vehicle-checks does, and answers in the same order. An invalid vehicle gets a problem in its place, with pointers into what was sent for it; the others are not affected. Nothing is stored.'

export async function vehicleBatchRoutes(app: App, options: RouteOptions, batches: Batches): Promise<void> {
  // Each in its own scope, which accepts its media type only.
  await app.register(async (scope: App) => {
    options.takeRaw(scope, JSON_TYPE)
    jsonBatchRoute(scope, options, batches)
  })
  await app.register(async (scope: App) => {
    batches.takeLines(scope)
    lineBatchRoute(scope, options, batches)
  })
}

/** Answers the vehicles of a batch, however they came. */
function vehicleAnswers(
  request: FastifyRequest,
  reply: FastifyReply,
  options: RouteOptions,
  batches: Batches,
): Batch['answer'] {
  const faultOf = checker(request, LINE)
  return checkAnswers(request, reply, batches, ANSWER_LINE, async (value, line) => {
    const given = refOf(value)
    if (given !== undefined) line.ref = given
    const fault = faultOf(value)
    if (fault !== undefined) throw fault
    const { vehicle } = value as BatchLineShape
    withPointer('/vehicle', () => checkPathNames(vehicle))
    return vehicleCheck(options, vehicle, '/vehicle')
  })
}

function jsonBatchRoute(app: App, options: RouteOptions, batches: Batches): void {
  app.post(
    '/v1/vehicle-checks/batch',
    {
      bodyLimit: JSON_BATCH_LIMIT,
      config,
      schema: {
        operationId: 'checkVehicles',
        ...LONG,
        summary: 'Check up to a thousand vehicles',
        description: `${EACH_BY_ITSELF}

For callers that cannot stream: up to ${MAX_IN_JSON} vehicles, ${JSON_BATCH_LIMIT / 1024 / 1024} MiB; one object back. For more, POST /v1/vehicle-checks/batch/ndjson.`,
        tags,
        body: { content: { [JSON_TYPE]: { schema: ref(VehicleBatch) } } },
        response: { 200: ref(VehicleBatchAnswer), ...problems(503) },
      },
    },
    async (request, reply) => {
      const raw = request.body as RawBody
      const answer = vehicleAnswers(request, reply, options, batches)
      const lines = isHeavyToRead(raw)
        ? await options.runJob(request, 'vehicleLines', raw)
        : vehicleLinesOf(raw, options.readJson)
      const source = { blocks: () => listed(lines) }
      batches.answerBatch(request, reply, { source, answer, framing: AS_OBJECT })
      return reply
    },
  )
}

function lineBatchRoute(app: App, options: RouteOptions, batches: Batches): void {
  app.post(
    '/v1/vehicle-checks/batch/ndjson',
    {
      config,
      schema: {
        operationId: 'checkVehicleLines',
        ...LONG,
        summary: 'Check any number of vehicles, line by line',
        description: `${EACH_BY_ITSELF}

One vehicle per line, { "ref"?, "vehicle" }, up to a million lines. The answer streams while the request does, so read while you send: a client that sends everything before it reads blocks both sides, and the service closes the connection. Status 200 says only that the batch began. The last line is the summary: without it the answer was cut off; with complete: false the lines after those counted were not processed. Blank lines are counted and skipped.`,
        tags,
        body: { content: { [NDJSON]: { schema: LINE } } },
        response: {
          200: {
            description: 'The check or the problem of each vehicle, and the summary.',
            content: { [NDJSON]: { schema: ANSWER_LINE } },
          },
          ...problems(503),
        },
      },
    },
    async (request, reply) => {
      const source = request.body as unknown as BatchSource
      const answer = vehicleAnswers(request, reply, options, batches)
      batches.answerBatch(request, reply, { source, answer, framing: AS_LINES })
      return reply
    },
  )
}
