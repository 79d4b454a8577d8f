import { DomainError } from '../errors.js'
import { fromSi, toSi } from '../measure/units.js'
import type { Bound, RuleId } from './rules.js'
import { type NamedRule, tableRule } from './verdicts.js'

/** A bound as people write it: percent of the true speed plus a constant in km/h. */
export interface GivenBound {
  readonly percent: number
  readonly kmh: number
}

/** Bounds of the caller, from one true speed to another. */
export interface CustomRule {
  readonly lower: GivenBound
  readonly upper: GivenBound
  /** Left out: from any speed. */
  readonly fromMPerS?: number
  /** Left out: up to any speed. */
  readonly toMPerS?: number
}

/** A rule to judge by: an id of the table, or bounds of the caller. */
export type GivenRule = RuleId | { readonly custom: CustomRule }

const boundOf = ({ percent, kmh }: GivenBound): Bound => ({
  percentOfTrue: percent,
  constantMPerS: toSi('speed', 'kmh', kmh),
})

/** Where the bounds cross, in words. Both are straight lines, so checking the ends of the range is enough. */
function crossing({ lower, upper, fromMPerS = 0, toMPerS }: CustomRule): string | undefined {
  const isCrossedAt = (kmh: number) =>
    ((lower.percent - upper.percent) * kmh) / 100 + (lower.kmh - upper.kmh) > 1e-9
  const fromKmh = fromSi('speed', 'kmh', fromMPerS)
  if (isCrossedAt(fromKmh)) return `at ${fromKmh} km/h`
  if (toMPerS === undefined) return lower.percent > upper.percent ? 'at high speed' : undefined
  const toKmh = fromSi('speed', 'kmh', toMPerS)
  return isCrossedAt(toKmh) ? `at ${toKmh} km/h` : undefined
}

function checkCustom(custom: CustomRule, pointer: string): void {
  const { fromMPerS, toMPerS } = custom
  if (fromMPerS !== undefined && toMPerS !== undefined && fromMPerS > toMPerS) {
    throw new DomainError('rule-bounds-crossed', 'custom: from lies above to', {
      pointer: `${pointer}/custom/from`,
    })
  }
  const where = crossing(custom)
  if (where === undefined) return
  throw new DomainError(
    'rule-bounds-crossed',
    `custom: ${where} the lower bound lies above the upper one; give lower at or below upper over the whole range from ... to`,
    { pointer: `${pointer}/custom/lower` },
  )
}

function customRule({ lower, upper, fromMPerS, toMPerS }: CustomRule): NamedRule {
  return {
    id: 'custom',
    rule: {
      title: "The caller's rule",
      jurisdiction: '',
      applies: '',
      source: 'user-rule',
      speed: Object.assign(
        { kind: 'band', lower: boundOf(lower), upper: boundOf(upper) } as const,
        fromMPerS === undefined ? undefined : { fromMPerS },
        toMPerS === undefined ? undefined : { toMPerS },
      ),
      testSpeedsMPerS: [],
      testSpeedsAre: 'true',
    },
  }
}

/**
 * The rule that a request names, or one of the caller's own bounds on indicated less true.
 *
 *     p_L·V/100 + c_L <= p_U·V/100 + c_U at both ends of the range
 *
 * V is the true speed; p_L, p_U [%] and c_L, c_U [km/h] are the share and the constant of the lower and of the upper bound.
 *
 * @param given - Id of the table, or bounds [% and km/h] with their range of true speeds [m/s]
 * @param pointer - JSON Pointer of the rule in the request
 * @returns The rule under its id, `custom` for the caller's
 * @throws {DomainError} `rule-without-limits`, `rule-bounds-crossed`
 * @see docs/sources.md (each rule names its source)
 * @example givenRule({ custom: { lower: { percent: 0, kmh: 0 }, upper: { percent: 10, kmh: 4 } } }, '/rule').id // "custom"
 * @example givenRule({ custom: { lower: { percent: 0, kmh: 5 }, upper: { percent: 10, kmh: 4 } } }, '/rule') // throws rule-bounds-crossed
 * @example givenRule('uk-1986-reg-35', '/rule') // throws rule-without-limits
 */
export function givenRule(given: GivenRule, pointer: string): NamedRule {
  if (typeof given !== 'string') {
    checkCustom(given.custom, pointer)
    return customRule(given.custom)
  }
  const named = tableRule(given)
  if (named.rule.speed === undefined && named.rule.distanceFraction === undefined) {
    throw new DomainError(
      'rule-without-limits',
      `${given} sets no accuracy limits; it says: ${named.rule.applies}`,
      { pointer },
    )
  }
  return named
}

/** The rules of a request; none are given where the list is left out. */
export const givenRules = (given: readonly GivenRule[] = [], pointer = '/rules'): NamedRule[] =>
  given.map((rule, index) => givenRule(rule, `${pointer}/${index}`))
