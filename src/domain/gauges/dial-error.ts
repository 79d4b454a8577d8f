import { type GivenHead, type GivenHeadErrors, headErrors } from '../drive-paths/given-path.js'
import { readingOf } from '../drive-paths/path.js'
import { type SpeedRow, speedRow, trueSpeed } from '../drive-paths/speed-table.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import type { Figure } from '../measure/figure.js'
import type { Note } from '../measure/notes.js'
import { product } from '../measure/propagation.js'
import type { Traced } from '../measure/provenance.js'
import type { SourceId } from '../measure/sources.js'
import { fromSi } from '../measure/units.js'
import { circumferenceOfOne, tireChange } from '../tires/comparison.js'
import { type Tire, tireGeometryAt } from '../tires/geometry.js'
import type { SizeTable } from '../tires/size-table.js'
import { type GivenRule, givenRules } from './given-rules.js'
import { dialNotes, distanceNotes, RULES_CAUTION } from './rule-notes.js'
import { type RuleVerdict, ruleVerdicts } from './rule-verdicts.js'
import { ruleSources, speedVerdicts } from './verdicts.js'

/** What drives a dial off true: another tire than it reads true with, or a known ratio. */
export type DialDrive =
  | { readonly fitted: Tire; readonly calibratedFor: Tire }
  | { readonly indicatedPerTrue: Figure }

/** A head, of which only its own error and its last mark count here. */
export type DialHead = GivenHeadErrors & Partial<GivenHead>

export type DialErrorRequest = DialDrive & {
  /** Left out: it reads true. */
  readonly head?: DialHead
  readonly speedsMPerS: readonly Figure[]
  readonly rules?: readonly GivenRule[]
}

/** A request whose tires are found. */
export interface KnownDial extends Pick<DialErrorRequest, 'head' | 'speedsMPerS' | 'rules'> {
  readonly drive: Drive
}

/** A line of a plot. */
export interface Series {
  readonly name: string
  readonly unit: string
  readonly points: ReadonlyArray<readonly [number, number]>
}

export interface DialError extends Traced {
  /** Apart from the offset of the head. */
  readonly indicatedPerTrue: Figure
  readonly table: readonly SpeedRow[]
  readonly verdicts: readonly RuleVerdict[]
  readonly series: readonly Series[]
  /** Of indicated over true. */
  readonly budget: readonly BudgetLine[]
}

interface Drive {
  readonly indicatedPerTrue: Figure
  /** Odometer error; unknown where the reading was measured. */
  readonly odometerPerTrue?: Figure
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

function driveOf(given: DialDrive, table: SizeTable): Drive {
  if ('indicatedPerTrue' in given) {
    const { indicatedPerTrue } = given
    return { indicatedPerTrue, sources: ['gum', 'caller-reading'], notes: [] }
  }
  const fitted = tireGeometryAt('/fitted', given.fitted, table)
  const calibratedFor = tireGeometryAt('/calibratedFor', given.calibratedFor, table)
  const { indicatedPerTrue } = tireChange(
    circumferenceOfOne('calibratedFor', calibratedFor),
    circumferenceOfOne('fitted', fitted),
  )
  return {
    indicatedPerTrue,
    odometerPerTrue: indicatedPerTrue,
    sources: [...fitted.sources, ...calibratedFor.sources],
    notes: [...fitted.notes, ...calibratedFor.notes],
  }
}

/** The dial of a request, each error of a tire at its pointer. */
export const knownDial = (request: DialErrorRequest, table: SizeTable): KnownDial => {
  const { head = {}, speedsMPerS, rules = [] } = request
  return { drive: driveOf(request, table), head, speedsMPerS, rules }
}

/** Speeds up to which a table takes some twenty milliseconds: the two tolerances of the tires make each a search for its uncertainty. */
const LIGHT_SPEEDS = 50

/** Whether to compute at once would keep other callers waiting. */
export const dialErrorIsHeavy = ({ speedsMPerS }: KnownDial): boolean => speedsMPerS.length > LIGHT_SPEEDS

const kmh = (speedMPerS: number) => fromSi('speed', 'kmh', speedMPerS)

/** Error against true speed in km/h, with the ends of its uncertainty. */
function errorSeries(rows: readonly SpeedRow[]): Series[] {
  const points = rows
    .map(({ trueMPerS, errorMPerS = { value: 0, plusMinus: 0 } }) => ({
      x: kmh(trueMPerS.value),
      error: kmh(errorMPerS.value),
      uncertainty: kmh(errorMPerS.plusMinus),
    }))
    .sort((a, b) => a.x - b.x)
  const line = (name: string, y: (point: (typeof points)[number]) => number): Series => ({
    name,
    unit: 'km/h',
    points: points.map((point) => [point.x, y(point)]),
  })
  return [
    line('error', ({ error }) => error),
    line('error, lower end of uncertainty', ({ error, uncertainty }) => error - uncertainty),
    line('error, upper end of uncertainty', ({ error, uncertainty }) => error + uncertainty),
  ]
}

/**
 * Error of a dial: what it reads at each true speed, and the verdict of each rule.
 *
 *     indicated = (C_calibrated / C_fitted)·scale·V + offset      or a known ratio in place of that of the tires
 *
 * @param dial - Ratio of the drive, own error of the head, true speeds [m/s], rules to judge by
 * @returns A row a speed, a verdict a rule over all its speeds, lines for a plot
 * @throws {DomainError} those of `givenRule`; `rule-needs-dial-max`
 * @see EU 165/2014, Annex I (indicated distance is proportional to l over the true circumference); JCGM 106:2012, 7.4
 * @example dialError(knownDial({ indicatedPerTrue: exact(1.05), speedsMPerS: [exact(20)] }, builtInSizes)).table[0].errorMPerS.value // 1 ± 1e-12
 */
export function dialError(dial: KnownDial): DialError {
  const { drive, head = {}, speedsMPerS } = dial
  const { dialMaxMPerS } = head
  const { scale, offsetMPerS } = headErrors(head)
  const ends = { dialMaxMPerS }
  const rules = givenRules(dial.rules)
  const line = {
    indicatedPerTrue: product(drive.indicatedPerTrue, scale),
    offsetMPerS,
    odometerPerTrue: drive.odometerPerTrue,
  }
  const readingAt = readingOf(line)
  const rows = speedsMPerS.map((speedMPerS) => {
    const speed = trueSpeed(speedMPerS)
    const reading = readingAt(speed.trueMPerS, speed.uTrueMPerS)
    return speedRow({ ...speed, reading, verdicts: speedVerdicts(rules, reading, ends) })
  })
  return {
    indicatedPerTrue: line.indicatedPerTrue,
    table: rows,
    verdicts: ruleVerdicts(rules, line, ends),
    series: errorSeries(rows),
    budget: budget(line.indicatedPerTrue),
    sources: [...drive.sources, ...ruleSources(rules)],
    notes: [
      ...drive.notes,
      ...dialNotes(
        speedsMPerS.map(({ value }) => readingAt(value)),
        dialMaxMPerS,
      ),
      ...(drive.odometerPerTrue === undefined ? distanceNotes(rules) : []),
      ...(rules.length > 0 ? [RULES_CAUTION] : []),
    ],
  }
}
