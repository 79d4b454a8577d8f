import type { Server } from 'node:http'
import { promisify } from 'node:util'
import type { Registry } from 'prom-client'
import type { HealthStore, StoreFigures } from '../db/store.js'
import type { HttpConnector } from './http-connector.js'
import { BOUNDS_S, type RequestDurations } from './request-durations.js'

const DURATION = 'http_server_request_duration_seconds'

/** What there is to know at the moment of asking. */
interface Moment {
  readonly connector: HttpConnector
  readonly figures: StoreFigures
  readonly connections: number
}

interface Metric {
  readonly help: string
  readonly type: 'counter' | 'gauge'
  /** Undefined when it does not apply: then the metric is not there. */
  readonly value: (moment: Moment) => number | undefined
}

/** Own metrics, for the text and for the documentation. */
export const METRICS: Readonly<Record<string, Metric>> = {
  http_server_open_connections: {
    help: 'Connections that clients hold open.',
    type: 'gauge',
    value: ({ connections }) => connections,
  },
  http_server_active_requests: {
    help: 'Requests that have come and are not answered to the end.',
    type: 'gauge',
    value: ({ connector }) => connector.active,
  },
  wheel_to_dial_requests_shed_total: {
    help: 'Requests refused with 503 because there were too many.',
    type: 'counter',
    value: ({ connector }) => connector.shed,
  },
  wheel_to_dial_requests_rate_limited_total: {
    help: 'Requests refused with 429 because one key or address sent too many.',
    type: 'counter',
    value: ({ connector }) => connector.durations.countOf(429),
  },
  wheel_to_dial_event_loop_utilization_ratio: {
    help: 'Share of the last quarter second in which the thread of the requests was busy, 0 to 1.',
    type: 'gauge',
    value: ({ connector }) => connector.queue.utilization,
  },
  wheel_to_dial_event_loop_delay_seconds: {
    help: 'Time by which the thread of the requests was late at the last look, taken every 50 ms.',
    type: 'gauge',
    value: ({ connector }) => connector.queue.delayMs / 1000,
  },
  wheel_to_dial_database_bytes: {
    help: 'Size of the database file.',
    type: 'gauge',
    value: ({ figures }) => figures.databaseBytes,
  },
  wheel_to_dial_wal_bytes: {
    help: 'Size of the file beside it that holds what was written lately.',
    type: 'gauge',
    value: ({ figures }) => figures.walBytes,
  },
  wheel_to_dial_disk_free_bytes: {
    help: 'Free space where the database file is.',
    type: 'gauge',
    value: ({ figures }) => figures.diskFreeBytes,
  },
  wheel_to_dial_backup_timestamp_seconds: {
    help: 'End of the last verified backup, since 1970 UTC; not there before the first.',
    type: 'gauge',
    value: ({ figures: { backedUpAtMs } }) => (backedUpAtMs === undefined ? undefined : backedUpAtMs / 1000),
  },
}

const quoted = (text: string) =>
  `"${text.replaceAll('\\', '\\\\').replaceAll('"', '\\"').replaceAll('\n', '\\n')}"`

/** The histogram of durations; kept by this program, since the client's own costs a request more than routing it. */
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

/** Metrics of the process, of this application alone: memory, processor time, files, collections, event loop. */
async function processRegistry(): Promise<Registry> {
  // Loaded when first asked for: a start need not wait for it.
  const { collectDefaultMetrics, Registry } = await import('prom-client')
  const register = new Registry()
  collectDefaultMetrics({ register })
  return register
}

/** What `GET /metrics` answers, in the text format of Prometheus. */
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
    const own = [...durationLines(this.connector.durations), ...ownLines(moment)].join('\n')
    return `${own}\n${await registry.metrics()}`
  }
}
