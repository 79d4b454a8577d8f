import { findTrains } from '../domain/gears/find-trains.js'
import { TrainsAnswer, TrainsRequest } from '../schemas/gears.js'
import { answering } from './calculation.js'

/** The answer of `POST /v1/gears/trains`. */
export const trainsAnswer = answering({ body: TrainsRequest, answer: TrainsAnswer, compute: findTrains })
