/** Upper bounds of the histogram buckets [s]. */
export const BOUNDS_S = [
  0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10,
] as const

export interface Durations {
  /** Number of durations in each bucket; the last bucket has no upper bound. */
  readonly counts: number[]
  sumS: number
}

/** Methods with a label of their own; any other is counted as OTHER_METHOD, which bounds the number of labels. */
const METHODS = new Set(['GET', 'HEAD', 'POST', 'PUT', 'PATCH', 'DELETE', 'OPTIONS'])
const OTHER_METHOD = '_OTHER'

/** The inner map of a key; created if there is none. */
function within<K, L, V>(map: Map<K, Map<L, V>>, key: K): Map<L, V> {
  let inner = map.get(key)
  if (inner === undefined) {
    inner = new Map()
    map.set(key, inner)
  }
  return inner
}

/**
 * Histograms of request durations by route, method and status. The number of series is bounded by routes and methods; all requests
 * that match no route count as one route.
 */
export class RequestDurations {
  private readonly series = new Map<string, Map<string, Map<string | number, Durations>>>()

  record(route: string, method: string, status: number | 'aborted', durationS: number): void {
    const durations = this.durationsOf(route, method, status)
    let place = 0
    while (place < BOUNDS_S.length && durationS > BOUNDS_S[place]!) place++
    durations.counts[place]!++
    durations.sumS += durationS
  }

  /** Number of requests answered with a status. */
  countOf(status: number): number {
    let total = 0
    for (const [labels, { counts }] of this.all()) {
      if (labels.status === String(status)) total += counts.reduce((sum, count) => sum + count, 0)
    }
    return total
  }

  *all(): Generator<[{ method: string; route: string; status: string }, Durations]> {
    for (const [route, byMethod] of this.series) {
      for (const [method, byStatus] of byMethod) {
        for (const [status, durations] of byStatus)
          yield [{ method, route, status: String(status) }, durations]
      }
    }
  }

  private durationsOf(route: string, method: string, status: number | 'aborted'): Durations {
    // Nested maps: joining the labels to one key would cost more than the rest.
    const byMethod = within(this.series, route)
    const byStatus = within(byMethod, METHODS.has(method) ? method : OTHER_METHOD)
    let durations = byStatus.get(status)
    if (durations === undefined) {
      durations = { counts: new Array<number>(BOUNDS_S.length + 1).fill(0), sumS: 0 }
      byStatus.set(status, durations)
    }
    return durations
  }
}
