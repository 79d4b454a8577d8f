import { writing } from '../codec/answer.js'
import { compareTires } from '../domain/tires/comparison.js'
import { ComparisonAnswer } from '../schemas/tires.js'

/** From known tires to the answer on the wire; threads compute long comparisons by it. */
export const comparisonAnswer = writing({ answer: ComparisonAnswer, compute: compareTires })
