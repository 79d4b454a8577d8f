import { Type } from '@sinclair/typebox'
import { filterDesignOut } from '../border/filter-design.js'
import { logAnalysisOut } from '../border/log-analysis.js'
import { isHeavy, JSON_TYPE, type RawBody } from '../border/raw-body.js'
import { simulationIsHeavy, simulationOut } from '../border/simulation.js'
import { ref } from '../schemas/measures.js'
import { calculationProblems, problems } from '../schemas/problems.js'
import { LONG } from '../schemas/rate-weights.js'
import {
  FilterDesignAnswer,
  FilterDesignRequest,
  LogAnalysisAnswer,
  LogAnalysisQuery,
  LogAnalysisRequest,
  SimulationAnswer,
  SimulationRequest,
} from '../schemas/signals.js'
import { inThread } from './in-thread.js'
import type { App, RouteOptions } from './options.js'

const tags = ['signals']

/** Largest log [bytes]: a million periods and more. */
const LOG_LIMIT = 16 * 1024 * 1024

/** A log as a table [s]: sixty pulses, 2.5 ms apart but for a little jitter. */
const LOG_EXAMPLE = `time\n${Array.from({ length: 60 }, (_, i) => (i * 0.0025 + (i % 3) * 1e-5).toFixed(5)).join('\n')}\n`

export async function signalRoutes(app: App, options: RouteOptions): Promise<void> {
  app.post(
    '/v1/signals/filter-design',
    {
      schema: {
        operationId: 'designFilter',
        summary: 'Design a smoothing filter',
        description:
          'The range of smoothing factors that bring noise down far enough without lagging too much, the factor to take, its power-of-two shift, and other filters compared.',
        tags,
        body: ref(FilterDesignRequest),
        response: { 200: ref(FilterDesignAnswer), ...calculationProblems() },
      },
    },
    (request) => filterDesignOut(request.body),
  )

  app.post(
    '/v1/signals/simulation',
    {
      schema: {
        operationId: 'simulateReading',
        ...LONG,
        summary: 'Simulate a drive and its display',
        description:
          'A drive, the pulses of a ring on it with its faults, missed and extra pulses, and what a timer, a filter and a display make of them, against the true speed. Up to 2 million pulses; the same request gives the same answer.',
        tags,
        body: ref(SimulationRequest),
        response: { 200: ref(SimulationAnswer), ...calculationProblems(), ...problems(503) },
      },
    },
    ({ body }, reply) =>
      simulationIsHeavy(body) ? inThread(reply, options, 'simulation', body) : simulationOut(body),
  )

  // In a scope of its own: nowhere else is text/csv taken.
  await app.register(async (scope: App) => {
    options.takeRaw(scope, [JSON_TYPE, 'text/csv'])
    scope.post(
      '/v1/signals/log-analysis',
      {
        bodyLimit: LOG_LIMIT,
        schema: {
          operationId: 'analyzeLog',
          ...LONG,
          summary: 'Analyze a recorded pulse log',
          description:
            'Finds missed and extra pulses, the errors of each gap of the ring, once-per-turn run-out, jitter, timer step and counter wrap, says what they point at, and recommends a filter. JSON with periods or times, or text/csv with the settings in the address; up to 16 MiB.',
          tags,
          querystring: LogAnalysisQuery,
          body: {
            content: {
              'application/json': { schema: ref(LogAnalysisRequest) },
              'text/csv': {
                schema: Type.Unsafe<Uint8Array>({
                  description: 'A table, RFC 4180, UTF-8.',
                  examples: [LOG_EXAMPLE],
                }),
              },
            },
          },
          response: { 200: ref(LogAnalysisAnswer), ...calculationProblems(), ...problems(503) },
        },
      },
      (request, reply) => {
        const log = { ...(request.body as RawBody), query: request.query }
        return isHeavy(log)
          ? inThread(reply, options, 'logAnalysis', log)
          : logAnalysisOut(log, options.readJson)
      },
    )
  })
}
