import type { Server } from 'node:http'
import { promisify } from 'node:util'
import type { Registry } from 'prom-client'
import type { HealthStore, StoreFigures } from '../db/store.js'
import type { Peers } from '../processes/peers.js'
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
  /** What the values of several processes make together; the sum if left out. */
  readonly together?: 'average' | 'max' | 'first'
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
    together: 'average',
    value: ({ connector }) => connector.queue.utilization,
  },
  wheel_to_dial_event_loop_delay_seconds: {
    help: 'Delay of the last sample of the main thread, taken every 50 ms.',
    type: 'gauge',
    together: 'max',
    value: ({ connector }) => connector.queue.delayMs / 1000,
  },
  wheel_to_dial_database_bytes: {
    help: 'Size of the database file.',
    type: 'gauge',
    together: 'first',
    value: ({ figures }) => figures.databaseBytes,
  },
  wheel_to_dial_wal_bytes: {
    help: 'Size of the write-ahead log.',
    type: 'gauge',
    together: 'first',
    value: ({ figures }) => figures.walBytes,
  },
  wheel_to_dial_disk_free_bytes: {
    help: 'Free space on the disk of the database file.',
    type: 'gauge',
    together: 'first',
    value: ({ figures }) => figures.diskFreeBytes,
  },
  wheel_to_dial_backup_timestamp_seconds: {
    help: 'End of the last verified backup, since 1970 UTC; absent before the first.',
    type: 'gauge',
    together: 'first',
    value: ({ figures: { backedUpAtMs } }) => (backedUpAtMs === undefined ? undefined : backedUpAtMs / 1000),
  },
}

interface Value {
  readonly value: number
  readonly labels: Readonly<Record<string, string | number>>
  readonly metricName?: string
}

/** A metric with its values, as the Prometheus client passes it from one process to another. */
interface Json {
  readonly name: string
  readonly help: string
  readonly type: 'counter' | 'gauge' | 'histogram'
  readonly aggregator: string
  readonly values: readonly Value[]
}

/** The histogram of durations; recorded without the Prometheus client, whose histogram costs a request more than routing does. */
function durationsAsJson(durations: RequestDurations): Json {
  const values: Value[] = []
  for (const [{ method, route, status }, { counts, sumS }] of durations.all()) {
    const labels = {
      http_request_method: method,
      http_route: route,
      http_response_status_code: status,
    }
    let upTo = 0
    for (const [place, count] of counts.entries()) {
      upTo += count
      const le = BOUNDS_S[place] ?? '+Inf'
      values.push({ metricName: `${DURATION}_bucket`, labels: { ...labels, le }, value: upTo })
    }
    values.push({ metricName: `${DURATION}_sum`, labels, value: sumS })
    values.push({ metricName: `${DURATION}_count`, labels, value: upTo })
  }
  const help = 'Time from the head of a request to the end of its answer.'
  return { name: DURATION, help, type: 'histogram', aggregator: 'sum', values }
}

function ownAsJson(moment: Moment): Json[] {
  return Object.entries(METRICS).flatMap(([name, { help, type, together = 'sum', value }]) => {
    const now = value(moment)
    if (now === undefined) return []
    return [
      {
        name,
        help,
        type,
        aggregator: together,
        values: [{ labels: {}, value: now }],
      },
    ]
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

const TOPIC = 'metrics'

/** The response to `GET /metrics`, in the Prometheus text format, of all processes of the service together. */
export class Metrics {
  private readonly connector: HttpConnector
  private readonly health: HealthStore
  private readonly server: Server
  private readonly peers: Peers
  private registry: Promise<Registry> | undefined

  constructor(connector: HttpConnector, health: HealthStore, server: Server, peers: Peers) {
    this.connector = connector
    this.health = health
    this.server = server
    this.peers = peers
    peers.answer(TOPIC, () => this.ofThisProcess())
  }

  async text(): Promise<string> {
    const { AggregatorRegistry } = await import('prom-client')
    const [own, others] = await Promise.all([this.ofThisProcess(), this.peers.ask(TOPIC)])
    return AggregatorRegistry.aggregate([own, ...(others as Json[][])]).metrics()
  }

  private async ofThisProcess(): Promise<Json[]> {
    this.registry ??= processRegistry()
    const [registry, figures, connections] = await Promise.all([
      this.registry,
      this.health.figures(),
      promisify(this.server.getConnections).call(this.server),
    ])
    const ofProcess = (await registry.getMetricsAsJSON()) as unknown as Json[]
    return [
      durationsAsJson(this.connector.answers.durations),
      ...ownAsJson({ connector: this.connector, figures, connections }),
      // The client leaves out what it cannot add, even of one process.
      ...ofProcess.map((json) => (json.aggregator === 'omit' ? { ...json, aggregator: 'first' } : json)),
    ]
  }
}
