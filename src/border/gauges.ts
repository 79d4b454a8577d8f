import { speedOut, valueSi } from '../codec/measures.js'
import { DomainError } from '../domain/errors.js'
import { type Bound, RULES, type Rule, type RuleId } from '../domain/gauges/rules.js'
import { type NamedRule, type RuleVerdict, tableRule, type Verdict } from '../domain/gauges/verdicts.js'
import type { Note } from '../domain/measure/notes.js'
import { SOURCES } from '../domain/measure/sources.js'
import { fromSi, toSi } from '../domain/measure/units.js'
import type { RuleRowShape, RuleShape, VerdictShape } from '../schemas/gauges.js'

interface BoundShape {
  readonly percent: number
  readonly kmh: number
}

const boundOf = ({ percent, kmh }: BoundShape): Bound => ({
  percentOfTrue: percent,
  constantMPerS: toSi('speed', 'kmh', kmh),
})

const boundOut = ({ percentOfTrue, constantMPerS }: Bound) => ({
  percent: percentOfTrue,
  kmh: fromSi('speed', 'kmh', constantMPerS),
})

/** Rejects bounds that cross at some speed. Both are straight lines, so checking the ends of the range is enough. */
function refuseCrossed(
  lower: BoundShape,
  upper: BoundShape,
  fromMPerS: number,
  toMPerS: number | undefined,
  pointer: string,
): void {
  const crossedAt = (kmh: number) =>
    ((lower.percent - upper.percent) * kmh) / 100 + (lower.kmh - upper.kmh) > 1e-9
  const fromKmh = fromSi('speed', 'kmh', fromMPerS)
  const toKmh = toMPerS === undefined ? undefined : fromSi('speed', 'kmh', toMPerS)
  const where = crossedAt(fromKmh)
    ? `at ${fromKmh} km/h`
    : toKmh !== undefined && crossedAt(toKmh)
      ? `at ${toKmh} km/h`
      : toKmh === undefined && lower.percent > upper.percent
        ? 'at high speed'
        : undefined
  if (where === undefined) return
  throw new DomainError(
    'rule-bounds-crossed',
    `custom: ${where} the lower bound lies above the upper one; give lower at or below upper over the whole range from ... to`,
    { pointer },
  )
}

/** The rule at `pointer` in the request. */
export function ruleOf(wire: RuleShape, pointer: string): NamedRule {
  if (typeof wire === 'string') {
    const named = tableRule(wire as RuleId)
    if (named.rule.speed === undefined && named.rule.distanceFraction === undefined) {
      throw new DomainError(
        'rule-without-limits',
        `${wire} sets no accuracy limits; it says: ${named.rule.applies}`,
        { pointer },
      )
    }
    return named
  }
  const { lower, upper, from, to } = wire.custom
  const fromMPerS = from === undefined ? undefined : valueSi('speed', from)
  const toMPerS = to === undefined ? undefined : valueSi('speed', to)
  if (fromMPerS !== undefined && toMPerS !== undefined && fromMPerS > toMPerS) {
    throw new DomainError('rule-bounds-crossed', 'custom: from lies above to', {
      pointer: `${pointer}/custom/from`,
    })
  }
  refuseCrossed(lower, upper, fromMPerS ?? 0, toMPerS, `${pointer}/custom/lower`)
  const band = { kind: 'band', lower: boundOf(lower), upper: boundOf(upper) } as const
  return {
    id: 'custom',
    rule: {
      title: "The caller's rule",
      jurisdiction: '',
      applies: '',
      source: 'user-rule',
      speed: Object.assign(
        band,
        fromMPerS === undefined ? undefined : { fromMPerS },
        toMPerS === undefined ? undefined : { toMPerS },
      ),
      testSpeedsMPerS: [],
      testSpeedsAre: 'true',
    },
  }
}

/** The rules of a request; `pointer` is that of the list. */
export function rulesOf(wire: readonly RuleShape[] | undefined, pointer = '/rules'): NamedRule[] {
  return (wire ?? []).map((rule, index) => ruleOf(rule, `${pointer}/${index}`))
}

/** A verdict on the indicated speed. */
export function verdictOut({ rule, result, probability, limits, atMPerS }: Verdict): VerdictShape {
  const out: VerdictShape = { rule, result, probability, limits: {}, at: speedOut(atMPerS) }
  if (limits.lowerMPerS !== undefined) out.limits.lower = speedOut(limits.lowerMPerS)
  if (limits.upperMPerS !== undefined) out.limits.upper = speedOut(limits.upperMPerS)
  return out
}

/** A verdict on everything that a rule limits; limits and speed are left out where the odometer decides. */
export function ruleVerdictOut({ rule, result, probability, speed, distance }: RuleVerdict): VerdictShape {
  const out: VerdictShape =
    speed?.probability === probability ? verdictOut(speed) : { rule, result, probability, limits: {} }
  if (distance !== undefined) {
    out.distance = {
      result: distance.result,
      probability: distance.probability,
      limitPercent: distance.limitFraction * 100,
    }
  }
  return out
}

/** Notes on odometer rules, where only the indicated speed is known. */
export function distanceNotes(rules: readonly NamedRule[]): Note[] {
  return rules.flatMap(({ id, rule }): Note[] =>
    rule.distanceFraction === undefined
      ? []
      : [
          {
            code: 'distance-not-judged',
            level: 'info',
            text: `${id} limits the error of the odometer to ${rule.distanceFraction * 100} % either way. Readings of the dial say nothing about it: use POST /v1/odometers/error.`,
          },
        ],
  )
}

/** A row of `GET /v1/gauges/rules`. */
function ruleRow(id: RuleId, rule: Rule): RuleRowShape {
  const row: RuleRowShape = {
    id,
    title: rule.title,
    jurisdiction: rule.jurisdiction,
    applies: rule.applies,
    speeds: rule.testSpeedsMPerS.map((speed) => speedOut(speed)),
    speedsAre: rule.testSpeedsAre,
    source: rule.source,
    standing: SOURCES[rule.source].standing,
  }
  const { speed } = rule
  if (speed?.kind === 'band') {
    if (speed.lower !== undefined) row.lower = boundOut(speed.lower)
    if (speed.upper !== undefined) row.upper = boundOut(speed.upper)
    if (speed.fromMPerS !== undefined) row.from = speedOut(speed.fromMPerS)
    if (speed.toMPerS !== undefined) row.to = speedOut(speed.toMPerS)
  }
  if (speed?.kind === 'points') {
    row.points = speed.points.map(({ trueMPerS, lowerMPerS, upperMPerS }) => ({
      at: speedOut(trueMPerS),
      lower: speedOut(lowerMPerS),
      upper: speedOut(upperMPerS),
    }))
  }
  if (speed?.kind === 'full-scale') {
    row.fullScalePercent = speed.upperShareOfScale * 100
    row.lower = { percent: 0, kmh: 0 }
    row.from = speedOut(speed.neverUnderFromMPerS)
  }
  if (rule.distanceFraction !== undefined) row.odometerPercent = rule.distanceFraction * 100
  return row
}

export const RULE_ROWS: readonly RuleRowShape[] = Object.entries(RULES).map(([id, rule]) =>
  ruleRow(id as RuleId, rule),
)
