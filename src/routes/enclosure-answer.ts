import { enclosure } from '../domain/electrics/enclosure.js'
import { EnclosureAnswer, EnclosureRequest } from '../schemas/electrics/enclosure.js'
import { answering } from './calculation.js'

/** The answer of `POST /v1/electrics/enclosure`. */
export const enclosureAnswer = answering({
  body: EnclosureRequest,
  answer: EnclosureAnswer,
  compute: enclosure,
})
