// Simulation compared with a bare loop over typed arrays that does the same arithmetic: time of each edge, counts of the
// timer, reading, smoothing, display, error. Ratios of one run; absolute times say nothing about another machine.
import { simulate } from '../dist/src/domain/signals/simulation.js'

const PULSES = 1_000_000
const PULSES_PER_M = 4
const TURN = 8
const TICK_S = 4e-6
const FACTOR = 0.25
const EVERY_S = 0.2
const START_M_PER_S = 10
const END_M_PER_S = 40
const ERRORS = [0.02, -0.01, 0.015, -0.025, 0.01, 0.005, -0.02, 0.005]

const wayM = PULSES / PULSES_PER_M
const durationS = (2 * wayM) / (START_M_PER_S + END_M_PER_S)

const request = {
  pulsesPerM: PULSES_PER_M,
  ring: { pulsesPerTurn: TURN, errors: ERRORS },
  profile: [
    { tS: 0, speedMPerS: START_M_PER_S },
    { tS: durationS, speedMPerS: END_M_PER_S },
  ],
  timerTickS: TICK_S,
  timerBits: 32,
  filter: { factor: FACTOR },
  betweenPulses: 'bound',
  zeroTimeoutS: 0.45,
  display: { everyS: EVERY_S },
}

function bare() {
  const acceleration = (END_M_PER_S - START_M_PER_S) / durationS
  const offsets = new Float64Array(TURN)
  for (let i = 1; i < TURN; i++) offsets[i] = offsets[i - 1] + ERRORS[i - 1]
  const times = new Float64Array(PULSES)
  for (let k = 0; k < PULSES; k++) {
    const way = (k + 0.5 + offsets[k % TURN]) / PULSES_PER_M
    times[k] = (2 * way) / (START_M_PER_S + Math.sqrt(START_M_PER_S ** 2 + 2 * acceleration * way))
  }
  const updates = Math.floor(durationS / EVERY_S)
  const shown = new Float64Array(updates)
  const perTick = 1 / TICK_S
  const scale = PULSES_PER_M * TICK_S
  let next = 1
  let last = Math.floor(times[0] * perTick)
  let y = Number.NaN
  let squares = 0
  for (let j = 0; j < updates; j++) {
    const now = (j + 1) * EVERY_S
    for (; next < PULSES && times[next] <= now; next++) {
      const count = Math.floor(times[next] * perTick)
      const x = 1 / ((count - last) * scale)
      y = Number.isNaN(y) ? x : y + FACTOR * (x - y)
      last = count
    }
    shown[j] = Math.min(y, 1 / (PULSES_PER_M * (now - times[next - 1])))
    const error = shown[j] - (START_M_PER_S + acceleration * now)
    squares += error * error
  }
  return Math.sqrt(squares / updates)
}

/** Minimum over several runs [ms]: the time without other load on the machine. */
function best(work, runs = 7) {
  let least = Number.POSITIVE_INFINITY
  for (let run = 0; run < runs; run++) {
    const start = performance.now()
    work()
    least = Math.min(least, performance.now() - start)
  }
  return least
}

/** Rows of the bench: name, ratio and target. */
export default async function simulationBench() {
  const rms = simulate(request).rmsErrorMPerS
  // The ratio is valid only if both did the same work.
  if (Math.abs(rms / bare() - 1) > 1e-6) throw new Error(`the two disagree: ${rms} against ${bare()}`)
  const bareMs = best(bare)
  const simulateMs = best(() => simulate(request))
  return [
    {
      name: 'simulation of 1 million pulses against a bare loop of the same arithmetic',
      ratio: bareMs / simulateMs,
      floor: 'bare loop over typed arrays',
      target: 0.5,
    },
  ]
}
