import { SOURCES, type SourceId, type Standing } from '../measure/sources.js'
import { fromSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import type { GivenBound } from './given-rules.js'
import { RULES_CAUTION } from './rule-notes.js'
import { type Bound, RULES, type Rule, type RuleId } from './rules.js'

/** A rule as the list shows it. Speeds in m/s. */
export interface RuleRow {
  readonly id: RuleId
  readonly title: string
  readonly jurisdiction: string
  readonly applies: string
  readonly speedsMPerS: readonly number[]
  readonly speedsAre: 'true' | 'indicated'
  readonly source: SourceId
  /** How well the text of the rule is known. */
  readonly standing: Standing
  readonly lower?: GivenBound
  readonly upper?: GivenBound
  readonly fromMPerS?: number
  readonly toMPerS?: number
  readonly fullScalePercent?: number
  readonly points?: ReadonlyArray<{
    readonly atMPerS: number
    readonly lowerMPerS: number
    readonly upperMPerS: number
  }>
  readonly odometerPercent?: number
}

const boundOut = ({ percentOfTrue, constantMPerS }: Bound): GivenBound => ({
  percent: percentOfTrue,
  kmh: fromSi('speed', 'kmh', constantMPerS),
})

function setLimits(row: Mutable<RuleRow>, { speed, distanceFraction }: Rule): void {
  if (speed?.kind === 'band') {
    if (speed.lower !== undefined) row.lower = boundOut(speed.lower)
    if (speed.upper !== undefined) row.upper = boundOut(speed.upper)
    if (speed.fromMPerS !== undefined) row.fromMPerS = speed.fromMPerS
    if (speed.toMPerS !== undefined) row.toMPerS = speed.toMPerS
  }
  if (speed?.kind === 'points')
    row.points = speed.points.map(({ trueMPerS, ...limits }) => ({ atMPerS: trueMPerS, ...limits }))
  if (speed?.kind === 'full-scale') {
    row.fullScalePercent = speed.upperShareOfScale * 100
    row.lower = { percent: 0, kmh: 0 }
    row.fromMPerS = speed.neverUnderFromMPerS
  }
  if (distanceFraction !== undefined) row.odometerPercent = distanceFraction * 100
}

function ruleRow(id: RuleId, rule: Rule): RuleRow {
  const row: Mutable<RuleRow> = {
    id,
    title: rule.title,
    jurisdiction: rule.jurisdiction,
    applies: rule.applies,
    speedsMPerS: rule.testSpeedsMPerS,
    speedsAre: rule.testSpeedsAre,
    source: rule.source,
    standing: SOURCES[rule.source].standing,
  }
  setLimits(row, rule)
  return row
}

/**
 * Every rule of the table with its bounds in percent and km/h, and how far the table can be relied on.
 *
 *     bound = percent·V/100 + constant   [km/h]
 *
 * @returns Rules in the order of the table, and the caution
 * @see docs/sources.md (each rule names its source)
 * @example ruleTable().rules.find(({ id }) => id === 'us-49-cfr-393-82').points[0].lowerMPerS / 0.44704 // 45 ± 1e-9
 */
export function ruleTable(): { readonly rules: readonly RuleRow[]; readonly caution: string } {
  return {
    rules: Object.entries(RULES).map(([id, rule]) => ruleRow(id as RuleId, rule)),
    caution: RULES_CAUTION.text,
  }
}
