import { decoder } from '../codec/decoder.js'
import { encoder } from '../codec/encoder.js'
import { givenRule, givenRules } from '../domain/gauges/given-rules.js'
import type { RuleVerdict } from '../domain/gauges/rule-verdicts.js'
import type { NamedRule, Verdict } from '../domain/gauges/verdicts.js'
import { RuleIn, type RuleShape, Verdict as VerdictSchema, type VerdictShape } from '../schemas/gauges.js'

const decode = decoder(RuleIn)
const encode = encoder(VerdictSchema)

/** The rule at `pointer` in the request. */
export const ruleOf = (wire: RuleShape, pointer: string): NamedRule => givenRule(decode(wire), pointer)

/** The rules of a request; `pointer` is that of the list. */
export const rulesOf = (wire: readonly RuleShape[] = [], pointer = '/rules'): NamedRule[] =>
  givenRules(wire.map(decode), pointer)

export const verdictOut = (verdict: Verdict | RuleVerdict): VerdictShape => encode(verdict, {})
