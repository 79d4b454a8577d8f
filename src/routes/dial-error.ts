import { writing } from '../codec/answer.js'
import { dialError } from '../domain/gauges/dial-error.js'
import { GaugeErrorAnswer } from '../schemas/gauges.js'

/** From a known dial to the answer on the wire; threads compute long tables by it. */
export const dialErrorAnswer = writing({ answer: GaugeErrorAnswer, compute: dialError })
