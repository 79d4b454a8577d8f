import { speedOut, timeOut, valueSi } from '../codec/measures.js'
import { fromSi } from '../domain/measure/units.js'
import type { Mutable } from '../domain/mutable.js'
import type { RingFaults } from '../domain/signals/ring.js'
import {
  type FlatPoints,
  type SimulationRequest,
  simulate,
  simulationSize,
} from '../domain/signals/simulation.js'
import type { SimulationAnswerShape, SimulationRequestShape } from '../schemas/simulation.js'
import { filterAt } from './filters.js'
import { provenance } from './provenance.js'

type RingShape = NonNullable<SimulationRequestShape['ring']>

const DEFAULTS = { displayEveryS: 0.1, seed: 1, seriesPoints: 500 }

/** Maximum number of pulses and display updates of a simulation that runs on the request thread: a few milliseconds. */
const LIGHT = 20_000

function ringOf(wire: RingShape | undefined): RingFaults {
  if (wire === undefined) return { pulsesPerTurn: 1 }
  const ring: Mutable<RingFaults> = { pulsesPerTurn: wire.pulsesPerTurn }
  if (wire.errors !== undefined) ring.errors = wire.errors
  if (wire.rms !== undefined) ring.rmsError = wire.rms
  if (wire.eccentricity !== undefined) ring.eccentricity = wire.eccentricity
  if (wire.joint !== undefined) ring.jointError = wire.joint
  return ring
}

/** Domain request of `POST /v1/signals/simulation`. */
export function simulationOf(wire: SimulationRequestShape): SimulationRequest {
  const request: Mutable<SimulationRequest> = {
    pulsesPerM: valueSi('perDistance', wire.pulses),
    ring: ringOf(wire.ring),
    profile: wire.profile.map(({ t, speed }) => ({
      tS: valueSi('time', t),
      speedMPerS: valueSi('speed', speed),
    })),
    missed: wire.missed ?? 0,
    extra: wire.extra ?? 0,
    edgeJitterS: wire.edgeJitter === undefined ? 0 : valueSi('time', wire.edgeJitter),
    timerTickS: wire.timerTick === undefined ? 0 : valueSi('time', wire.timerTick),
    filterOn: wire.filterOn ?? 'speed',
    betweenPulses: wire.betweenPulses ?? 'hold',
    displayEveryS: wire.display === undefined ? DEFAULTS.displayEveryS : valueSi('time', wire.display.every),
    seed: wire.seed ?? DEFAULTS.seed,
    seriesPoints: wire.seriesPoints ?? DEFAULTS.seriesPoints,
  }
  if (wire.timerBits !== undefined) request.timerBits = wire.timerBits
  if (wire.filter !== undefined) request.filter = filterAt('/filter', wire.filter)
  if (wire.zeroTimeout !== undefined) request.zeroTimeoutS = valueSi('time', wire.zeroTimeout)
  return request
}

/** Whether a simulation would block the request thread. Throws if it exceeds the maximum size. */
export function simulationIsHeavy(wire: SimulationRequestShape): boolean {
  const { pulses, updates } = simulationSize(simulationOf(wire))
  return pulses + updates > LIGHT
}

function pointsOf(flat: FlatPoints): number[][] {
  const points: number[][] = []
  for (let i = 0; i < flat.length; i += 2) points.push([flat[i]!, fromSi('speed', 'kmh', flat[i + 1]!)])
  return points
}

/** The answer of `POST /v1/signals/simulation`. */
export function simulationOut(wire: SimulationRequestShape): SimulationAnswerShape {
  const result = simulate(simulationOf(wire))
  const out: SimulationAnswerShape = {
    pulses: result.pulses,
    missedPulses: result.missedPulses,
    extraPulses: result.extraPulses,
    displayUpdates: result.displayUpdates,
    pulsesInOneTick: result.pulsesInOneTick,
    rmsError: speedOut(result.rmsErrorMPerS),
    peakError: speedOut(result.peakErrorMPerS),
    peakErrorAt: timeOut(result.peakErrorAtS),
    series: [
      { name: 'true', unit: 's, km/h', points: pointsOf(result.trueSpeed) },
      { name: 'shown', unit: 's, km/h', points: pointsOf(result.shownSpeed) },
    ],
    ...provenance(result),
  }
  if (result.lagS !== undefined) out.lag = timeOut(result.lagS)
  if (result.settling95S !== undefined) out.settling95 = timeOut(result.settling95S)
  if (result.timeToZeroS !== undefined) out.timeToZero = timeOut(result.timeToZeroS)
  if (result.steadySpreadMPerS !== undefined) out.steadySpread = speedOut(result.steadySpreadMPerS)
  if (result.steadyBiasMPerS !== undefined) out.steadyBias = speedOut(result.steadyBiasMPerS)
  return out
}
