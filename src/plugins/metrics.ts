import type { Server } from 'node:http'
import { promisify } from 'node:util'
import type { Registry } from 'prom-client'
import type { HealthStore, StoreFigures } from '../db/store.js'
import type { HttpConnector } from './http-connector.js'
import { BOUNDS_S, type RequestDurations } from './request-durations.js'

const DURATION = 'http_server_request_duration_seconds'

/** State at the time of the request. */
interface Moment {
  readonly connector: HttpConnector
  readonly figures: StoreFigures
  readonly connections: number
}

interface Metric {
  readonly help: string
  readonly type: 'counter' | 'gauge'
  /** Undefined if it does not apply: the metric is then left out. */
  readonly value: (moment: Moment) => number | undefined
}

/** Metrics of this service, for the response and for the documentation. */
export const METRICS: Readonly<Record<string, Metric>> = {
  http_server_open_connections: {
    help: 'Open connections.',
    type: 'gauge',
    value: ({ connections }) => connections,
  },
  http_server_active_requests: {
    help: 'Requests that have arrived and are not completely answered.',
    type: 'gauge',
    value: ({ connector }) => connector.active,
  },
  wheel_to_dial_requests_shed_total: {
    help: 'Requests refused with 503 because of overload.',
    type: 'counter',
    value: ({ connector }) => connector.shedding.shed,
  },
  wheel_to_dial_requests_rate_limited_total: {
    help: 'Requests refused with 429 because one key or address sent too many.',
    type: 'counter',
    value: ({ connector }) => connector.answers.durations.countOf(429),
  },
  wheel_to_dial_event_loop_utilization_ratio: {
    help: 'Share of the last quarter second in which the main thread was busy, 0 to 1.',
    type: 'gauge',
    value: ({ connector }) => connector.queue.utilization,
  },
  wheel_to_dial_event_loop_delay_seconds: {
    help: 'Delay of the last sample of the main thread, taken every 50 ms.',
    type: 'gauge',
    value: ({ connector }) => connector.queue.delayMs / 1000,
  },
  wheel_to_dial_database_bytes: {
    help: 'Size of the database file.',
    type: 'gauge',
    value: ({ figures }) => figures.databaseBytes,
  },
  wheel_to_dial_wal_bytes: {
    help: 'Size of the write-ahead log.',
    type: 'gauge',
    value: ({ figures }) => figures.walBytes,
  },
  wheel_to_dial_disk_free_bytes: {
    help: 'Free space on the disk of the database file.',
    type: 'gauge',
    value: ({ figures }) => figures.diskFreeBytes,
  },
  wheel_to_dial_backup_timestamp_seconds: {
    help: 'End of the last verified backup, since 1970 UTC; absent before the first.',
    type: 'gauge',
    value: ({ figures: { backedUpAtMs } }) => (backedUpAtMs === undefined ? undefined : backedUpAtMs / 1000),
  },
}

const quoted = (text: string) =>
  `"${text.replaceAll('\\', '\\\\').replaceAll('"', '\\"').replaceAll('\n', '\\n')}"`

/** The histogram of durations; recorded without the Prometheus client, whose histogram costs a request more than routing does. */
function durationLines(durations: RequestDurations): string[] {
  const lines = [
    `# HELP ${DURATION} Time from the head of a request to the end of its answer.`,
    `# TYPE ${DURATION} histogram`,
  ]
  for (const [{ method, route, status }, { counts, sumS }] of durations.all()) {
    const labels = `http_request_method=${quoted(method)},http_route=${quoted(route)},http_response_status_code=${quoted(status)}`
    let upTo = 0
    for (const [place, count] of counts.entries()) {
      upTo += count
      lines.push(`${DURATION}_bucket{${labels},le="${BOUNDS_S[place] ?? '+Inf'}"} ${upTo}`)
    }
    lines.push(`${DURATION}_sum{${labels}} ${sumS}`, `${DURATION}_count{${labels}} ${upTo}`)
  }
  return lines
}

function ownLines(moment: Moment): string[] {
  return Object.entries(METRICS).flatMap(([name, { help, type, value }]) => {
    const now = value(moment)
    return now === undefined ? [] : [`# HELP ${name} ${help}`, `# TYPE ${name} ${type}`, `${name} ${now}`]
  })
}

/** A registry with the default metrics of the process: memory, processor time, open files, garbage collection, event loop. */
async function processRegistry(): Promise<Registry> {
  // Imported at the first request, so that the start does not wait for it.
  const { collectDefaultMetrics, Registry } = await import('prom-client')
  const register = new Registry()
  collectDefaultMetrics({ register })
  return register
}

/** The response to `GET /metrics`, in the Prometheus text format. */
export class Metrics {
  private readonly connector: HttpConnector
  private readonly health: HealthStore
  private readonly server: Server
  private registry: Promise<Registry> | undefined

  constructor(connector: HttpConnector, health: HealthStore, server: Server) {
    this.connector = connector
    this.health = health
    this.server = server
  }

  async text(): Promise<string> {
    this.registry ??= processRegistry()
    const [registry, figures, connections] = await Promise.all([
      this.registry,
      this.health.figures(),
      promisify(this.server.getConnections).call(this.server),
    ])
    const moment = { connector: this.connector, figures, connections }
    const own = [...durationLines(this.connector.answers.durations), ...ownLines(moment)].join('\n')
    return `${own}\n${await registry.metrics()}`
  }
}
