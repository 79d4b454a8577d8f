/**
 * Pulse logs with known faults, made without any code of the service: another generator of chance (Park and Miller's
 * minimal standard), normal values as sums of twelve uniform ones, and a speed that changes by the hour hand of a sine.
 */
export interface LogPlan {
  readonly start?: number
  readonly pulsesPerTurn?: number
  readonly turns?: number
  /** Gap errors of the ring as shares of the pitch; they add up to zero. */
  readonly errors?: readonly number[]
  /** Time error of each edge, rms, as a share of the period. */
  readonly edgeJitter?: number
  readonly missed?: number
  readonly extra?: number
  readonly periodUs?: number
  /** Slow change of the speed, as a share of it. */
  readonly speedSwing?: number
  readonly tickUs?: number
  /** Whether pulse k of the ring is lost, for faults that are no matter of chance. */
  readonly loses?: (k: number) => boolean
  /** Whether an extra pulse comes before pulse k. */
  readonly adds?: (k: number) => boolean
  /** Displacement of the pick-up at time t [s], as a share of the pitch. */
  readonly sways?: (timeS: number) => number
}

export interface PlannedLog {
  readonly timesUs: number[]
  /** Items before which a pulse is missing, and items that are extra. */
  readonly missed: number[]
  readonly extra: number[]
}

export function chance(start: number): () => number {
  let state = (start % 2_147_483_646) + 1
  for (let i = 0; i < 20; i++) state = (state * 16_807) % 2_147_483_647
  return () => {
    state = (state * 16_807) % 2_147_483_647
    return (state - 1) / 2_147_483_646
  }
}

export function plannedLog(plan: LogPlan): PlannedLog {
  const {
    start = 1,
    pulsesPerTurn = 8,
    turns = 100,
    edgeJitter = 0.005,
    periodUs = 2507.3,
    tickUs = 1,
  } = plan
  const { errors = [], missed = 0, extra = 0, speedSwing = 0 } = plan
  const uniform = chance(start)
  const normal = () => {
    let sum = -6
    for (let i = 0; i < 12; i++) sum += uniform()
    return sum
  }
  const timesUs: number[] = []
  const missedAt: number[] = []
  const extraAt: number[] = []
  let way = 0
  let last = 0
  let quiet = 10
  const total = pulsesPerTurn * turns
  for (let k = 0; k < total; k++) {
    // Time of a way at a speed that swings once over the log: the integral of 1 + swing·cos.
    const swing = (speedSwing * total * Math.sin((2 * Math.PI * way) / total)) / (2 * Math.PI)
    let time = (way + swing) * periodUs
    if (plan.sways !== undefined) time += plan.sways(time * 1e-6) * periodUs
    time += edgeJitter * periodUs * normal()
    // Two chance faults keep three pulses apart: an extra pulse where one is missed looks like a pulse.
    quiet++
    const adds = plan.adds?.(k) ?? (quiet > 3 && uniform() < extra)
    if (k > 0 && adds) {
      quiet = 0
      extraAt.push(timesUs.length)
      timesUs.push(last + (time - last) * (0.1 + 0.8 * uniform()))
    }
    const loses = plan.loses?.(k) ?? (quiet > 3 && uniform() < missed)
    if (k > 0 && k < total - 1 && loses) {
      quiet = 0
      missedAt.push(timesUs.length)
    } else timesUs.push(time)
    last = time
    way += 1 + (errors[k % pulsesPerTurn] ?? 0)
  }
  return {
    timesUs: timesUs.map((time) => Math.round(time / tickUs) * tickUs),
    missed: missedAt,
    extra: extraAt,
  }
}
