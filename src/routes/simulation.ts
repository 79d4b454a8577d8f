import { writing } from '../codec/answer.js'
import { reading } from '../codec/request.js'
import { type SimulationRequest as Given, simulate, simulationSize } from '../domain/signals/simulation.js'
import { SimulationAnswer, SimulationRequest } from '../schemas/simulation.js'

/** Maximum number of pulses and display updates of a simulation that runs on the request thread: a few milliseconds. */
const LIGHT = 20_000

/** From a simulation on the wire to SI. */
export const simulationOf = reading({ body: SimulationRequest, compute: simulate })

/** From a simulation in SI to its answer on the wire; threads compute long ones by it. */
export const simulationAnswer = writing({ answer: SimulationAnswer, compute: simulate })

/** Whether a simulation would block the request thread. Throws if it exceeds the maximum size. */
export function isLongSimulation(request: Given): boolean {
  const { pulses, updates } = simulationSize(request)
  return pulses + updates > LIGHT
}
