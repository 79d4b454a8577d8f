import { Type } from '@sinclair/typebox'
import { designFilter } from '../domain/signals/filter-design.js'
import { isHeavy, JSON_TYPE, type RawBody } from '../http/raw-body.js'
import { FilterDesignAnswer, FilterDesignRequest } from '../schemas/filter-design.js'
import { LogAnalysisAnswer, LogAnalysisRequest, LogTableQuery } from '../schemas/log-analysis.js'
import { ref } from '../schemas/named-shapes.js'
import { problems } from '../schemas/problems.js'
import { LONG } from '../schemas/rate-weights.js'
import { SimulationAnswer, SimulationRequest } from '../schemas/simulation.js'
import { calculation, calculationSchema } from './calculation.js'
import { inThread } from './in-thread.js'
import { logAnalysisAnswer, logTableAnswer } from './log-analysis.js'
import type { App, RouteOptions } from './options.js'
import { isLongSimulation, simulationAnswer, simulationOf } from './simulation.js'

const tag = 'signals'
const tags = [tag]

const CSV = 'text/csv'

const LOG_FINDINGS =
  'Finds missed and extra pulses, the errors of each gap of the ring, once-per-turn run-out, jitter, timer step and counter wraps, names the likely causes, and recommends a filter.'

/** Maximum size of a log [bytes]: more than a million periods. */
const LOG_LIMIT = 16 * 1024 * 1024

/** Example log in CSV [s]: sixty pulses, 2.5 ms apart with a little jitter. */
const LOG_EXAMPLE = `time\n${Array.from({ length: 60 }, (_, i) => (i * 0.0025 + (i % 3) * 1e-5).toFixed(5)).join('\n')}\n`

export async function signalRoutes(app: App, options: RouteOptions): Promise<void> {
  app.post(
    '/v1/signals/filter-design',
    calculation({
      id: 'designFilter',
      summary: 'Design a smoothing filter',
      description:
        'The range of smoothing factors that meet a noise limit and a lag limit, the recommended factor, its power-of-two shift, and a comparison with other filters.',
      tag,
      body: FilterDesignRequest,
      answer: FilterDesignAnswer,
      compute: designFilter,
    }),
  )

  app.post(
    '/v1/signals/simulation',
    {
      schema: {
        ...calculationSchema({
          id: 'simulateReading',
          summary: 'Simulate a drive and its display',
          description:
            'Simulates a drive: the pulses of a ring with its faults, missed and extra pulses, then timer, filter and display, compared with the true speed. Up to 2 million pulses; the same request gives the same answer.',
          tag,
          body: SimulationRequest,
          answer: SimulationAnswer,
          errors: [503],
        }),
        ...LONG,
      },
    },
    ({ body }, reply) => {
      const request = simulationOf(body)
      return isLongSimulation(request)
        ? inThread(reply, options, 'simulation', request)
        : simulationAnswer(request)
    },
  )

  // Each in its own scope, which accepts its media type only.
  await app.register(async (scope: App) => {
    options.takeRaw(scope, JSON_TYPE)
    logAnalysisRoute(scope, options)
  })
  await app.register(async (scope: App) => {
    options.takeRaw(scope, CSV)
    logTableRoute(scope, options)
  })
}

function logAnalysisRoute(app: App, options: RouteOptions): void {
  app.post(
    '/v1/signals/log-analysis',
    {
      bodyLimit: LOG_LIMIT,
      schema: {
        operationId: 'analyzeLog',
        ...LONG,
        summary: 'Analyze a recorded pulse log',
        description: `${LOG_FINDINGS} Periods or times, up to a million pulses, 16 MiB.`,
        tags,
        body: { content: { [JSON_TYPE]: { schema: ref(LogAnalysisRequest) } } },
        response: { 200: ref(LogAnalysisAnswer), ...problems(503) },
      },
    },
    (request, reply) => {
      const log = request.body as RawBody
      return isHeavy(log)
        ? inThread(reply, options, 'logAnalysis', log)
        : logAnalysisAnswer(log, options.readJson)
    },
  )
}

function logTableRoute(app: App, options: RouteOptions): void {
  app.post(
    '/v1/signals/log-analysis/csv',
    {
      bodyLimit: LOG_LIMIT,
      schema: {
        operationId: 'analyzeLogTable',
        ...LONG,
        summary: 'Analyze a pulse log recorded as a table',
        description: `${LOG_FINDINGS} A column of periods or times, with its settings in the query; up to a million pulses, 16 MiB.`,
        tags,
        querystring: LogTableQuery,
        body: {
          content: {
            [CSV]: {
              schema: Type.Unsafe<Uint8Array>({
                description: 'A table, RFC 4180, UTF-8.',
                examples: [LOG_EXAMPLE],
              }),
            },
          },
        },
        response: { 200: ref(LogAnalysisAnswer), ...problems(503) },
      },
    },
    (request, reply) => {
      const table = { ...(request.body as unknown as RawBody), query: request.query }
      return isHeavy(table) ? inThread(reply, options, 'logTable', table) : logTableAnswer(table)
    },
  )
}
