import { type Static, Type } from '@sinclair/typebox'
import { MODEL } from '../domain/model.js'
import { RequestProblem } from '../http/request-problem.js'
import { Liveness, Readiness } from '../schemas/health.js'
import { ref } from '../schemas/named-shapes.js'
import { problems } from '../schemas/problems.js'
import type { App } from './options.js'

const tags = ['health']

/** Monitoring sends many requests from one address and must not use up the rate limit of others there. */
const config = { unlimited: true }

export interface HealthOptions {
  /** Version of the program. */
  readonly version: string
  readonly readiness: () => Promise<ReadonlyArray<Static<typeof Readiness>['checks'][number]>>
  readonly metrics: () => Promise<string>
  /** Who may read the metrics: holders of a key, everyone, or nobody. */
  readonly metricsFor: 'key' | 'open' | 'off'
}

export function healthRoutes(app: App, { version, readiness, metrics, metricsFor }: HealthOptions): void {
  app.get(
    '/livez',
    {
      config,
      schema: {
        operationId: 'getLiveness',
        summary: 'Liveness of the process',
        description:
          'Answers 200 as long as the process runs, with the versions of the program and of its computations, without checking anything else. If it does not answer, restart the service.',
        tags,
        response: { 200: ref(Liveness) },
      },
    },
    () => ({ alive: true, version, model: MODEL }),
  )

  app.get(
    '/readyz',
    {
      config,
      schema: {
        operationId: 'getReadiness',
        summary: 'Readiness of the service',
        description:
          'Reads a row, writes one (at most every 5 s), checks the disk, the write-ahead log and the schema version. 503 if a check fails or while the service is stopping: send it no requests then.',
        tags,
        response: { 200: ref(Readiness), ...problems(500, 503) },
      },
    },
    async (_request, reply) => {
      const checks = await readiness()
      reply.header('cache-control', 'no-store')
      const failed = checks.filter(({ ok }) => !ok)
      if (failed.length === 0) return { ready: true, checks: [...checks] }
      const found = failed.map(({ name, detail }) => `${name}: ${detail}`).join('; ')
      throw new RequestProblem('not-ready', `Not ready. ${found}.`, [], { 'retry-after': '1' })
    },
  )

  if (metricsFor === 'off') return
  app.get(
    '/metrics',
    {
      config,
      schema: {
        operationId: 'getMetrics',
        summary: 'Metrics for monitoring',
        description:
          'Durations of requests by route, refusals, load, connections, sizes of files, time of the last backup, process; in the text format of Prometheus. docs/operations.md explains each.',
        tags,
        ...(metricsFor === 'key' ? { security: [{ key: [] }] } : {}),
        response: {
          200: {
            description: 'The metrics.',
            content: {
              'text/plain; version=0.0.4; charset=utf-8': {
                schema: Type.String({ description: 'One metric a line.' }),
              },
            },
          },
          ...problems(500),
        },
      },
    },
    async (_request, reply) => {
      const text = await metrics()
      return reply.header('content-type', 'text/plain; version=0.0.4; charset=utf-8').send(text)
    },
  )
}
