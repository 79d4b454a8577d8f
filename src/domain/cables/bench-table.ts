import { type GivenHead, givenHead } from '../drive-paths/given-path.js'
import { type DriveSignal, type Head, readingOf, spreadAgainst } from '../drive-paths/path.js'
import { DomainError, withPointer } from '../errors.js'
import { type GivenRule, givenRules } from '../gauges/given-rules.js'
import { type NamedRule, ruleSources, tableRule } from '../gauges/verdicts.js'
import { exact, type Figure } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import type { SourceId } from '../measure/sources.js'
import { halfWidth } from '../measure/spread.js'
import { standardUncertainty } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { tableSpeeds } from '../vehicles/evaluate.js'
import {
  type BenchTolerance,
  benchRatePerS,
  benchSpeedMPerS,
  benchTolerance,
  type Lay,
  type Sense,
  tighteningSense,
} from './bench.js'

export interface BenchTableRequest {
  readonly head: GivenHead
  /** Marks of the dial. Left out, with the rates left out too: up to the last mark. */
  readonly speedsMPerS?: readonly Figure[]
  /** Rates of turning. [1/s] */
  readonly rpmsPerS?: readonly Figure[]
  /** Left out: the bench practice. */
  readonly rules?: readonly GivenRule[]
  readonly drill?: { readonly topSpeedPerS: Figure }
  /** Direction in which the car turns the head. */
  readonly headTurns?: Sense
  /** Lay of the outermost layer of the flexible shaft. */
  readonly outerLayer?: Lay
}

export interface RuleTolerance extends BenchTolerance {
  readonly rule: string
  /** Title of the rule. */
  readonly title: string
}

export interface BenchRow {
  readonly speedMPerS: Figure
  /** For a head that takes turns. [1/s] */
  readonly rpmPerS?: Figure
  /** For a head that takes pulses. */
  readonly frequencyHz?: Figure
  /** With the head's own known error. */
  readonly showsMPerS: { readonly value: number; readonly plusMinus: number }
  readonly tolerances: readonly RuleTolerance[]
  readonly drillReaches?: boolean
}

export interface BenchTable {
  /** One row a speed, then one a rate of turning. */
  readonly rows: readonly BenchRow[]
  readonly turn?: Sense
  readonly shaftTightens?: Sense
  readonly drillReachesMPerS?: Figure
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Top of the table for a dial without a given last mark [m/s]: the highest mark of the bench practice, 60 mph. */
const DEFAULT_TOP_M_PER_S = 60 * 0.44704

const BENCH_CAUTION: Note = cautionNote(
  'bench-safety',
  'Hold the head, not the shaft. Keep fingers, rags and sleeves away from a turning shaft. Raise the speed slowly, and stop before the pointer reaches its end stop.',
)

const DIRECTION_UNKNOWN: Note = infoNote(
  'direction-not-given',
  'The constant does not give the direction of rotation. Turn the square of the head by hand: in the right direction the odometer counts up. Driven the wrong way, the pointer presses on its stop and the odometer runs backward. A flexible shaft takes load only in the direction that tightens its outer layer.',
)

const DRILL_TOO_SLOW: Note = infoNote(
  'drill-too-slow',
  'The drill does not reach every speed in the table. Check up to its top speed; the slope found there applies to the rest of the scale only if the scale is linear. Pulleys or gears of known ratio extend the range.',
)

/**
 * How to drive a head on the bench: for each mark the rate, what the head shows, and what it may show.
 *
 *     n = k·v
 *
 * n is the rate, k the constant of the head, v the mark.
 *
 * @param request - Head, marks [m/s] or rates [1/s], rules, drill, directions
 * @returns A row a mark and a row a rate; the direction to turn, and the speed that the drill reaches
 * @throws {DomainError} `head-does-not-fit-path` for a drill, rates of turning or directions of a head that takes pulses; `rule-needs-dial-max`,
 *   `rule-without-limits`, `rule-bounds-crossed`
 * @see US War Department TM 9-1829A (1944): 1000 turns a mile is 60 mph at 1000 rpm
 * @example benchTable({ head: { input: 'turns', constantPerM: exact(1000 / 1609.344), unit: 'mph' }, speedsMPerS: [exact(60 * 0.44704)] }).rows[0].rpmPerS.value * 60 // 1000 ± 1e-9
 * @example benchTable({ head: { input: 'pulses', constantPerM: exact(4), unit: 'kmh' }, headTurns: 'clockwise' }) // throws head-does-not-fit-path
 */
export function benchTable(request: BenchTableRequest): BenchTable {
  const head = givenHead(request.head)
  checkInputs(request, head.input)
  const rules = request.rules === undefined ? [tableRule('us-army-bench-1944')] : givenRules(request.rules)
  const drillPerS = request.drill?.topSpeedPerS
  const rows = rowsOf(request, head, rules)
  const result: Mutable<BenchTable> = {
    rows,
    sources: [
      'definitions',
      'gum',
      'tm-9-1829a',
      'tm-5-3805-254-14p-2',
      // The table gives limits only, no verdict.
      ...ruleSources(rules).filter((source) => source !== 'jcgm-106'),
    ],
    notes: benchNotes(request, rows),
  }
  if (request.headTurns !== undefined) result.turn = request.headTurns
  if (request.outerLayer !== undefined) result.shaftTightens = tighteningSense(request.outerLayer)
  if (drillPerS !== undefined) result.drillReachesMPerS = benchSpeedMPerS(head.constantPerM, drillPerS)
  return result
}

/** Fields of the request that only a head that takes turns can use: its domain name, and its name on the wire. */
const OF_TURNS = [
  ['rpmsPerS', 'rpms'],
  ['drill', 'drill'],
  ['headTurns', 'headTurns'],
  ['outerLayer', 'outerLayer'],
] as const

function checkInputs(request: BenchTableRequest, input: DriveSignal): void {
  if (input === 'turns') return
  for (const [key, field] of OF_TURNS) {
    if (request[key] === undefined) continue
    throw new DomainError(
      'head-does-not-fit-path',
      `${field}: the head takes pulses, not turns; leave ${field} out and drive the head at the frequencies of the answer`,
      { pointer: `/${field}` },
    )
  }
}

function rowsOf(request: BenchTableRequest, head: Head, rules: readonly NamedRule[]): BenchRow[] {
  const { speedsMPerS, rpmsPerS = [] } = request
  const { constantPerM, dialMaxMPerS = DEFAULT_TOP_M_PER_S } = head
  const marks =
    speedsMPerS ?? (rpmsPerS.length === 0 ? tableSpeeds(request.head.unit, dialMaxMPerS).map(exact) : [])
  const row = rowFactory(head, rules, request.drill?.topSpeedPerS.value)
  return [
    ...marks.map((speed) => row(speed, benchRatePerS(constantPerM, speed))),
    ...rpmsPerS.map((rate) => row(benchSpeedMPerS(constantPerM, rate), rate)),
  ]
}

function rowFactory(head: Head, rules: readonly NamedRule[], drillPerS: number | undefined) {
  const own = readingOf({ indicatedPerTrue: head.scale, offsetMPerS: head.offsetMPerS })
  return (speedMPerS: Figure, rate: Figure): BenchRow => {
    const shows = own(speedMPerS.value, standardUncertainty(speedMPerS))
    const row: Mutable<BenchRow> = {
      speedMPerS,
      showsMPerS: { value: shows.indicatedMPerS, plusMinus: halfWidth(spreadAgainst(shows, 0)) },
      tolerances: rules.flatMap((rule) => {
        const tolerance = withPointer('/head', () =>
          benchTolerance(rule, speedMPerS.value, head.dialMaxMPerS),
        )
        return tolerance === undefined ? [] : [{ rule: rule.id, title: rule.rule.title, ...tolerance }]
      }),
    }
    if (head.input === 'turns') row.rpmPerS = rate
    else row.frequencyHz = rate
    if (drillPerS !== undefined) row.drillReaches = rate.value <= drillPerS
    return row
  }
}

function benchNotes(
  { head, headTurns, outerLayer }: BenchTableRequest,
  rows: readonly BenchRow[],
): readonly Note[] {
  if (head.input === 'pulses') return []
  const notes = [BENCH_CAUTION]
  if (headTurns === undefined) notes.push(DIRECTION_UNKNOWN)
  const tightens = outerLayer === undefined ? undefined : tighteningSense(outerLayer)
  if (headTurns !== undefined && tightens !== undefined && tightens !== headTurns) {
    notes.push(
      cautionNote(
        'shaft-unwinds',
        `The head turns ${headTurns}, and this shaft tightens only ${tightens}: under load its outer layer unwinds, and it whips and breaks. Use a shaft of the other lay, or couple the drill to the head without a flexible shaft.`,
      ),
    )
  }
  if (rows.some(({ drillReaches }) => drillReaches === false)) notes.push(DRILL_TOO_SLOW)
  return notes
}
