import { connect } from 'node:net'
import { monitorEventLoopDelay } from 'node:perf_hooks'

/** Most connections at once: further callers find none free, like a full accept queue. */
const MAX_CONNECTIONS = 1000
/** How long to wait for answers after the last request [ms]. */
const ANSWER_TIMEOUT_MS = 5000
/** Limit for a prompt answer [ms]. */
const SOON_MS = 1000

const HEAD_END = Buffer.from('\r\n\r\n')

export const quantile = (values, q) => {
  const sorted = Float64Array.from(values).sort()
  return sorted.length === 0 ? Number.NaN : sorted[Math.round(q * (sorted.length - 1))]
}

/** A keep-alive connection that sends the same bytes repeatedly and parses no more of an answer than needed to count it. */
class Caller {
  constructor(crowd) {
    this.crowd = crowd
    this.missing = 0
    this.sentMs = undefined
    this.socket = connect({ host: '127.0.0.1', port: crowd.port, localAddress: crowd.from })
    this.socket.setNoDelay(true)
    this.socket.on('data', (chunk) => this.take(chunk))
    this.socket.on('error', () => {})
    this.socket.on('close', () => this.crowd.lost(this))
  }

  send(bytes) {
    this.sentMs = performance.now()
    this.socket.write(bytes)
  }

  take(chunk) {
    if (this.missing > 0) {
      this.missing -= chunk.length
    } else {
      const end = chunk.indexOf(HEAD_END)
      if (end < 0) throw new Error('the head of an answer came in parts')
      const head = chunk.latin1Slice(0, end)
      this.status = Number(head.slice(9, 12))
      const length = /\r\ncontent-length: (\d+)/i.exec(head)
      if (length === null) throw new Error('an answer has no content-length')
      this.missing = Number(length[1]) - (chunk.length - end - HEAD_END.length)
      this.waitS = Number(/\r\nretry-after: (\d+)/i.exec(head)?.[1] ?? 0)
    }
    if (this.missing <= 0) this.crowd.answered(this)
  }
}

/** Sends one request repeatedly from a dedicated process: open-loop at a fixed rate, or closed-loop as fast as it is answered. */
export class Crowd {
  /**
   * @param from - Address that the callers have, of those that the machine has for itself
   */
  constructor(address, { method = 'POST', path, body, headers = {}, from }) {
    this.port = Number(new URL(address).port)
    this.from = from
    const fields = { host: '127.0.0.1', ...headers }
    if (body !== undefined) {
      fields['content-type'] = 'application/json'
      fields['content-length'] = Buffer.byteLength(body)
    }
    const lines = Object.entries(fields).map(([name, value]) => `${name}: ${value}\r\n`)
    this.bytes = Buffer.from(`${method} ${path} HTTP/1.1\r\n${lines.join('')}\r\n${body ?? ''}`)
    this.callers = new Set()
    this.idle = []
    this.again = undefined
    this.obeys = false
    this.reset()
  }

  reset() {
    this.statuses = {}
    this.ok = []
    this.refused = []
    this.unsent = 0
    this.broken = 0
  }

  lost(caller) {
    this.callers.delete(caller)
    this.idle = this.idle.filter((one) => one !== caller)
    if (caller.sentMs !== undefined) this.broken++
    caller.sentMs = undefined
  }

  answered(caller) {
    const nowMs = performance.now()
    const { status } = caller
    this.statuses[status] = (this.statuses[status] ?? 0) + 1
    if (status < 300) this.ok.push([nowMs, nowMs - caller.sentMs])
    else if (status === 503) this.refused.push(nowMs - caller.sentMs)
    caller.sentMs = undefined
    if (this.again?.(caller) === true) return
    if (this.obeys && caller.waitS > 0) setTimeout(() => this.idle.push(caller), caller.waitS * 1000)
    else this.idle.push(caller)
  }

  ask() {
    let caller = this.idle.pop()
    if (caller === undefined) {
      if (this.callers.size >= MAX_CONNECTIONS) {
        this.unsent++
        return
      }
      caller = new Caller(this)
      this.callers.add(caller)
    }
    caller.send(this.bytes)
  }

  /** Closed loop: each of several callers sends its next request when it is answered. */
  async closedLoop(clients, seconds) {
    const endsMs = performance.now() + seconds * 1000
    this.again = (caller) => {
      if (performance.now() > endsMs) return false
      caller.send(this.bytes)
      return true
    }
    return this.measured(seconds, async () => {
      for (let n = 0; n < clients; n++) this.ask()
      await new Promise((resolve) => setTimeout(resolve, seconds * 1000))
    })
  }

  /** Open loop: a fixed number of requests per second, whether answered or not; callers that obey pause for Retry-After. */
  async openLoop(perSecond, seconds, { obeys = false } = {}) {
    this.again = undefined
    this.obeys = obeys
    return this.measured(seconds, async () => {
      const startMs = performance.now()
      let asked = 0
      for (;;) {
        const elapsedS = (performance.now() - startMs) / 1000
        if (elapsedS >= seconds) return
        for (const due = Math.floor(elapsedS * perSecond); asked < due; asked++) this.ask()
        await new Promise((resolve) => setTimeout(resolve, 1))
      }
    })
  }

  async measured(seconds, work) {
    this.reset()
    const delay = monitorEventLoopDelay({ resolution: 5 })
    delay.enable()
    const startMs = performance.now()
    await work()
    const endMs = performance.now()
    const busy = () => [...this.callers].some((caller) => caller.sentMs !== undefined)
    while (busy() && performance.now() < endMs + ANSWER_TIMEOUT_MS)
      await new Promise((resolve) => setTimeout(resolve, 5))
    delay.disable()
    const unanswered = [...this.callers].filter((caller) => caller.sentMs !== undefined)
    for (const caller of unanswered) caller.socket.destroy()
    const inTime = this.ok.filter(([atMs]) => atMs <= endMs)
    const latencies = this.ok.map(([, ms]) => ms)
    // The median of every half second.
    const buckets = Array.from({ length: Math.round(seconds * 2) }, (_, index) =>
      quantile(
        this.ok.filter(([atMs]) => Math.floor((atMs - startMs) / 500) === index).map(([, ms]) => ms),
        0.5,
      ),
    )
    return {
      perSecond: inTime.length / ((endMs - startMs) / 1000),
      soon: latencies.filter((ms) => ms <= SOON_MS).length,
      statuses: this.statuses,
      unsent: this.unsent,
      broken: this.broken,
      unanswered: unanswered.length,
      okMs: { p50: quantile(latencies, 0.5), p99: quantile(latencies, 0.99) },
      refusedMs: { p50: quantile(this.refused, 0.5), p99: quantile(this.refused, 0.99) },
      middleMs: buckets,
      ownDelayMs: delay.percentile(99) / 1e6,
    }
  }

  close() {
    for (const { socket } of this.callers) socket.destroy()
  }
}
