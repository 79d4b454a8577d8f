import { decoder } from '../codec/decoder.js'
import { simulate, simulationSize } from '../domain/signals/simulation.js'
import { SimulationAnswer, SimulationRequest, type SimulationRequestShape } from '../schemas/simulation.js'
import { answering } from './calculation.js'

/** Maximum number of pulses and display updates of a simulation that runs on the request thread: a few milliseconds. */
const LIGHT = 20_000

/** From a simulation on the wire to its answer; threads compute long ones by it. */
export const simulationAnswer = answering({
  body: SimulationRequest,
  answer: SimulationAnswer,
  compute: simulate,
})

const decode = decoder(SimulationRequest)

/** Whether a simulation would block the request thread. Throws if it exceeds the maximum size. */
export function isLongSimulation(body: SimulationRequestShape): boolean {
  const { pulses, updates } = simulationSize(decode(body))
  return pulses + updates > LIGHT
}
