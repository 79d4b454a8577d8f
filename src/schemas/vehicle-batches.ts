import { type Static, Type } from '@sinclair/typebox'
import { listOf, named, ref, shape } from './named-shapes.js'
import { choice, count } from './plain-values.js'
import { Problem } from './problems.js'
import { Id, Next, PAGE_QUERY, Version } from './stored.js'
import { VehicleCheckAnswer } from './vehicle-checks.js'
import { VehicleProfile } from './vehicles.js'

/** Most vehicles of a JSON request, and of a JSON page. */
export const MAX_IN_JSON = 1000

/** Largest JSON request [bytes]. */
export const JSON_BATCH_LIMIT = 2 * 1024 * 1024

/** Why a batch ended before its time. */
export const BATCH_ENDS = [
  'too-many-lines',
  'too-many-bytes',
  'stalled',
  'out-of-time',
  'closing',
  'failed',
] as const

export type BatchEnd = (typeof BATCH_ENDS)[number]

const [example] = VehicleProfile.examples as [Static<typeof VehicleProfile>]

const BatchRef = Type.String({
  minLength: 1,
  maxLength: 200,
  description: 'Your name for the line; the answer repeats it.',
})

export const BatchLine = named(
  'BatchLine',
  Type.Object(
    { vehicle: ref(VehicleProfile, 'The profile of the vehicle.'), ref: Type.Optional(BatchRef) },
    {
      additionalProperties: false,
      description: 'A vehicle of a batch: as NDJSON, one line.',
      examples: [{ ref: 'row 1', vehicle: example }],
    },
  ),
)

export const VehicleBatch = named(
  'VehicleBatch',
  Type.Object(
    {
      vehicles: Type.Array(ref(BatchLine), {
        minItems: 1,
        maxItems: MAX_IN_JSON,
        description: 'The vehicles. An invalid one gets a problem in its place, and the others are checked.',
      }),
    },
    {
      additionalProperties: false,
      description: 'A batch for a caller that cannot stream.',
      examples: [
        {
          vehicles: [
            { ref: 'row 1', vehicle: example },
            { ref: 'row 2', vehicle: { ...example, rule: 'us-49-cfr-393-82' } },
          ],
        },
      ],
    },
  ),
)

/** A JSON batch whose vehicles are not looked at: each is checked by itself. */
export const VehicleList = Type.Object(
  { vehicles: Type.Array(Type.Unknown(), { minItems: 1, maxItems: MAX_IN_JSON }) },
  { additionalProperties: false },
)

const lines = (description: string) => Type.Integer({ minimum: 0, description, 'x-dimensionless': true })

const SUMMARY = {
  lines: lines('Lines read: ok + failed + blank.'),
  blank: lines('Blank lines: counted and skipped, without an answer line.'),
  ok: lines('Vehicles that were checked.'),
  failed: lines('Vehicles answered with a problem.'),
  complete: Type.Boolean({
    description:
      'Whether the batch was read to its end. If false, the lines after those counted here were not processed: send them again.',
  }),
  reason: Type.Optional(
    choice(BATCH_ENDS, {
      description:
        'Why it is not complete: a limit of the service, stalled (no line came in time), out-of-time, closing (the service is being stopped), failed (the store could not be read).',
    }),
  ),
}

export const BatchSummary = shape('BatchSummary', 'Summary of a batch.', SUMMARY)

/** What is said of each vehicle. */
const VERDICT = {
  ok: Type.Optional(
    Type.Boolean({ description: 'Whether it was checked: result when true, problem when not.' }),
  ),
  result: Type.Optional(ref(VehicleCheckAnswer, 'The check of the vehicle; absent on a problem.')),
  problem: Type.Optional(ref(Problem, 'Why the vehicle was not checked; absent on a result.')),
}

const LINE_OR_SUMMARY =
  'The answer to one vehicle: line, ok, and either result or problem. The last line of NDJSON has summary only: an answer without it was cut off.'

// One shape for both kinds of line: the serializer may drop fields of a union.
export const BatchAnswerLine = shape('BatchAnswerLine', LINE_OR_SUMMARY, {
  line: Type.Optional(
    lines('Line of the request, counted from 1 with blank lines; in JSON the place in vehicles, from 1.'),
  ),
  ref: Type.Optional(
    Type.String({ description: 'ref of the line; absent if it had none or could not be read.' }),
  ),
  ...VERDICT,
  summary: Type.Optional(ref(BatchSummary, 'Summary of the batch; on the last line only.')),
})

export const VehicleBatchAnswer = shape('VehicleBatchAnswer', 'The answers to a batch.', {
  results: listOf(BatchAnswerLine, MAX_IN_JSON, 'In the order of the vehicles.'),
  summary: ref(BatchSummary, 'Summary of the batch.'),
})

export const SavedChecksQuery = Type.Object(
  {
    limit: Type.Optional(
      count({
        minimum: 1,
        maximum: MAX_IN_JSON,
        description: 'Maximum number of vehicles. Left out: all as NDJSON, 50 as JSON.',
      }),
    ),
    cursor: PAGE_QUERY.cursor,
    make: Type.Optional({
      ...VehicleProfile.properties.make,
      description: 'Only of this make, in any case.',
    }),
    model: Type.Optional({
      ...VehicleProfile.properties.model,
      description: 'Only of this model, in any case.',
    }),
  },
  { additionalProperties: false },
)

const SavedChecksSummary = shape('SavedChecksSummary', 'Summary of the checks; next continues them.', {
  ...SUMMARY,
  next: Next,
})

export const SavedCheckLine = shape('SavedCheckLine', LINE_OR_SUMMARY, {
  line: Type.Optional(lines('Place of the vehicle in this answer, from 1.')),
  id: Type.Optional(Id),
  version: Type.Optional(Version),
  reference: Type.Optional(Type.String({ description: 'reference of the vehicle; absent if it has none.' })),
  ...VERDICT,
  summary: Type.Optional(ref(SavedChecksSummary, 'Summary of the checks; on the last line only.')),
})

export const SavedChecksAnswer = shape('SavedChecksAnswer', 'A page of the checks of the stored vehicles.', {
  results: listOf(SavedCheckLine, MAX_IN_JSON, 'In the order of creation.'),
  summary: ref(SavedChecksSummary, 'Summary of the checks.'),
})

export type BatchLineShape = Static<typeof BatchLine>
export type BatchSummaryShape = Static<typeof BatchSummary>
