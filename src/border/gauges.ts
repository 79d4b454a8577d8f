import { decoder } from '../codec/decoder.js'
import { givenRules } from '../domain/gauges/given-rules.js'
import type { NamedRule } from '../domain/gauges/verdicts.js'
import { RuleIn, type RuleShape } from '../schemas/gauges.js'

const decode = decoder(RuleIn)

/** The rules of a request; `pointer` is that of the list. */
export const rulesOf = (wire: readonly RuleShape[] = [], pointer = '/rules'): NamedRule[] =>
  givenRules(wire.map(decode), pointer)
