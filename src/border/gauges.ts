import { decoder } from '../codec/decoder.js'
import { givenRules } from '../domain/gauges/given-rules.js'
import type { NamedRule } from '../domain/gauges/verdicts.js'
import { RuleIn, type RuleShape } from '../schemas/gauges.js'

const decode = decoder(RuleIn)

/** The rules of a request. */
export const rulesOf = (wire: readonly RuleShape[]): NamedRule[] => givenRules(wire.map(decode))
