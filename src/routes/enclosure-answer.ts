import { writing } from '../codec/answer.js'
import { enclosure } from '../domain/electrics/enclosure.js'
import { EnclosureAnswer } from '../schemas/electrics/enclosure.js'

/** From an enclosure in SI to the answer on the wire; threads compute uncertain ones by it. */
export const enclosureAnswer = writing({ answer: EnclosureAnswer, compute: enclosure })
