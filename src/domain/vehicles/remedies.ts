import { type Head, type Response, readingOf } from '../drive-paths/path.js'
import { solveStages } from '../drive-paths/solve.js'
import { type Verdict, worstSpeedVerdict } from '../gauges/verdicts.js'
import { type Figure, scaled } from '../measure/figure.js'
import { fromSi, toSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import type { EvaluatedPath, Vehicle } from './vehicle.js'

export type RemedyAction =
  | 'change-driven-gear'
  | 'change-gear-pair'
  | 'change-ratio-adapter'
  | 'add-ratio-adapter'
  | 'set-pulse-scaler'
  | 'add-pulse-scaler'
  | 'set-head-constant'

/** One way to put a reading right. */
export interface Remedy {
  readonly pathIndex: number
  readonly action: RemedyAction
  /** Where in the profile, as a JSON Pointer. */
  readonly pointer: string
  readonly text: string
  readonly line: Response
  readonly errorFraction: number
  readonly withinAim: boolean
  readonly verdict?: Verdict
  readonly leaves: readonly string[]
  /** New ratio of a stage, in whole numbers. */
  readonly stage?: { readonly numerator: number; readonly denominator: number }
  readonly constantPerM?: Figure
}

/** A reading is to be true to 4 % over, never under. */
export const REMEDY_AIM = { minFraction: 0, maxFraction: 0.04 }

/** How many teeth a driven gear may gain or lose and still mesh at the same centers; common practice, no source. */
const DRIVEN_TEETH_RANGE = 6
const FEWEST_TEETH = 5

/** Largest whole number in the ratio of an adapter, and of a scaler; common practice, no source. */
const ADAPTER_MAX_TERM = 40
const SCALER_MAX_TERM = 999

/** Most remedies of one kind for one place. */
const MOST_OF_A_KIND = 2

interface Change {
  readonly action: RemedyAction
  readonly pointer: string
  readonly text: string
  /** By what the reading is multiplied. */
  readonly factor: number
  /** By what the distance record is multiplied; the reading's own factor unless said. */
  readonly recordFactor?: number
  readonly stage?: { numerator: number; denominator: number }
  readonly constantPerM?: Figure
}

/** Whole-number ratios for a place that now has `ratio`, best by the aim; none where the change would be absurd. */
function nearRatios(ratio: number, slope: number, maxTerm: number) {
  const exact = ratio / slope
  if (!(exact >= 1 / maxTerm && exact <= maxTerm)) return []
  const { solutions } = solveStages(exact, [{ by: 'max-term', maxTerm }], REMEDY_AIM, MOST_OF_A_KIND)
  return solutions.map(({ choices }) => ({
    numerator: choices[0]!.numerator!,
    denominator: choices[0]!.denominator!,
  }))
}

function gearChanges({ path, index, line }: EvaluatedPath): Change[] {
  return path.stages.flatMap((stage, position) => {
    const { teeth } = stage
    if (stage.kind !== 'gear-pair' || teeth === undefined) return []
    const driven = Array.from(
      { length: 2 * DRIVEN_TEETH_RANGE + 1 },
      (_, step) => teeth.driven - DRIVEN_TEETH_RANGE + step,
    ).filter((count) => count >= FEWEST_TEETH && count !== teeth.driven)
    if (driven.length === 0) return []
    // What the pair's ratio must be for a true reading, all else as it is.
    const exact = teeth.driving / teeth.driven / line.indicatedPerTrue.value
    const { solutions } = solveStages(
      exact,
      [{ by: 'teeth', driving: [teeth.driving], driven }],
      REMEDY_AIM,
      MOST_OF_A_KIND,
    )
    return solutions.map(({ choices, errorFraction }): Change => {
      const denominator = Math.round(teeth.driving / choices[0]!.ratio)
      return {
        action: 'change-driven-gear',
        pointer: `/paths/${index}/stages/${position}`,
        text: `Change the driven gear of ${stage.name} from ${teeth.driven} to ${denominator} teeth.`,
        factor: (1 + errorFraction) / line.indicatedPerTrue.value,
        stage: { numerator: teeth.driving, denominator },
      }
    })
  })
}

function ratioChanges({ path, index, line }: EvaluatedPath): Change[] {
  const slope = line.indicatedPerTrue.value
  const pulses = path.head.takes === 'pulses'
  const kind = pulses ? 'pulse-scaler' : 'ratio-adapter'
  const maxTerm = pulses ? SCALER_MAX_TERM : ADAPTER_MAX_TERM
  const changed = path.stages.flatMap((stage, position): Change[] => {
    if (stage.kind !== kind) return []
    return nearRatios(stage.ratio.value, slope, maxTerm).map(({ numerator, denominator }) => ({
      action: pulses ? 'set-pulse-scaler' : 'change-ratio-adapter',
      pointer: `/paths/${index}/stages/${position}`,
      text: pulses
        ? `Set ${stage.name} to ${numerator} pulses out for ${denominator} in.`
        : `Change ${stage.name} for one of ${numerator}:${denominator} (output turns : input turns).`,
      factor: numerator / denominator / stage.ratio.value,
      stage: { numerator, denominator },
    }))
  })
  if (changed.length > 0) return changed
  const added = nearRatios(1, slope, maxTerm).filter(
    ({ numerator, denominator }) => numerator !== denominator,
  )
  return added.map(({ numerator, denominator }) => ({
    action: pulses ? 'add-pulse-scaler' : 'add-ratio-adapter',
    pointer: `/paths/${index}/stages`,
    text: pulses
      ? `Add a pulse scaler of ${numerator} pulses out for ${denominator} in before the head.`
      : `Add a ratio adapter of ${numerator}:${denominator} (output turns : input turns) before the head.`,
    factor: numerator / denominator,
    stage: { numerator, denominator },
  }))
}

function constantChanges({ path, index, line, outputPerM }: EvaluatedPath): Change[] {
  const { head, unit } = path
  const key = unit === 'mph' ? 'perMile' : 'perKm'
  const slope = line.indicatedPerTrue.value
  if (head.takes === 'pulses') {
    // Rounded down to a whole number per mile or kilometer of the dial, so that the reading never falls below true.
    const wanted = fromSi('perDistance', key, head.constantPerM.value * slope)
    const whole = wanted > 100 ? Math.floor(wanted) : wanted
    const constantPerM = scaled(outputPerM, toSi('perDistance', key, whole) / outputPerM.value)
    const factor = head.constantPerM.value / constantPerM.value
    return [
      {
        action: 'set-head-constant',
        pointer: `/paths/${index}/head/constant`,
        text: `Set the head to ${whole.toFixed(wanted > 100 ? 0 : 3)} pulses per ${unit === 'mph' ? 'mile' : 'kilometer'}.`,
        factor,
        constantPerM,
      },
    ]
  }
  return [
    {
      action: 'set-head-constant',
      pointer: `/paths/${index}/head/constant`,
      text: `Have the head recalibrated to ${fromSi('perDistance', key, head.constantPerM.value * slope).toFixed(0)} turns per ${unit === 'mph' ? 'mile' : 'kilometer'} (spring and magnet, by a gauge workshop).`,
      factor: 1 / slope,
      // Spring and magnet do not reach the counter.
      recordFactor: 1,
      constantPerM: scaled(head.constantPerM, slope),
    },
  ]
}

function remedyOf(vehicle: Vehicle, evaluated: EvaluatedPath, change: Change): Remedy {
  const { line, path } = evaluated
  const after: Response = {
    indicatedPerTrue: scaled(line.indicatedPerTrue, change.factor),
    offsetMPerS: line.offsetMPerS,
    recordedPerTrue: scaled(line.recordedPerTrue, change.recordFactor ?? change.factor),
  }
  const errorFraction = after.indicatedPerTrue.value - 1
  const slack = 1e-9
  const remedy: Mutable<Remedy> = {
    pathIndex: evaluated.index,
    action: change.action,
    pointer: change.pointer,
    text: change.text,
    line: after,
    errorFraction,
    withinAim:
      errorFraction >= REMEDY_AIM.minFraction - slack && errorFraction <= REMEDY_AIM.maxFraction + slack,
    leaves: whatStays(vehicle, path.head, after, errorFraction),
  }
  const options: { dialMaxMPerS?: number; topSpeedMPerS?: number } = {}
  if (path.head.dialMaxMPerS !== undefined) options.dialMaxMPerS = path.head.dialMaxMPerS
  if (vehicle.topSpeedMPerS !== undefined) options.topSpeedMPerS = vehicle.topSpeedMPerS
  const verdict = worstSpeedVerdict(vehicle.rule, readingOf(after), evaluated.speedsMPerS, options)
  if (verdict !== undefined) remedy.verdict = verdict
  if (change.stage !== undefined) remedy.stage = change.stage
  if (change.constantPerM !== undefined) remedy.constantPerM = change.constantPerM
  return remedy
}

function whatStays(vehicle: Vehicle, head: Head, after: Response, errorFraction: number): string[] {
  const stays: string[] = []
  const record = after.recordedPerTrue.value - 1
  if (errorFraction < -1e-9) stays.push(`The dial still reads ${(-errorFraction * 100).toFixed(1)} % low.`)
  if (Math.abs(record) > 0.01) {
    stays.push(
      `The distance record runs ${(Math.abs(record) * 100).toFixed(1)} % ${record > 0 ? 'fast' : 'slow'}.`,
    )
  }
  if (after.offsetMPerS.value !== 0) stays.push("The head's own error at low speed stays.")
  if (head.dialMaxMPerS !== undefined && vehicle.topSpeedMPerS !== undefined) {
    if (readingOf(after)(vehicle.topSpeedMPerS).indicatedMPerS > head.dialMaxMPerS)
      stays.push('The dial ends below the top speed.')
  }
  return stays
}

/** Best first: within the aim, least likely to break the rule, least left wrong, nearest to true. */
function rank(a: Remedy, b: Remedy): number {
  const failing = ({ verdict }: Remedy) =>
    verdict === undefined
      ? 0
      : verdict.result === 'does-not-conform'
        ? 2
        : verdict.result === 'not-proven'
          ? 1
          : 0
  return (
    Number(b.withinAim) - Number(a.withinAim) ||
    failing(a) - failing(b) ||
    a.leaves.length - b.leaves.length ||
    Math.abs(a.errorFraction) - Math.abs(b.errorFraction)
  )
}

/**
 * Ways to put the readings of a vehicle right, best first.
 *
 *     new indicated/true = indicated/true · factor of the change; wanted: 0 to 4 % over, never under
 *
 * Each path that lies outside the aim, or that its rule does not pass, is solved for each stage that can be changed: driven gear, ratio
 * adapter, pulse scaler, and the constant of the head.
 *
 * @param vehicle - The vehicle
 * @param evaluated - Its paths, evaluated
 * @returns Remedies; none for a path that needs none
 * @throws {DomainError} `rule-needs-dial-max`
 * @see US Army TM 5-3820-256-24-4 (new adapter, sometimes a new driven gear); TM 9-1829A (regulation of the head); ranges of teeth: common practice, no source
 * @example vehicleRemedies(EXAMPLE_VEHICLE, [evaluateVehiclePath(EXAMPLE_VEHICLE, 0)]).some((r) => r.action === 'change-driven-gear' && r.stage.denominator === 19) // true
 */
export function vehicleRemedies(vehicle: Vehicle, evaluated: readonly EvaluatedPath[]): Remedy[] {
  return evaluated
    .filter((path) => needsRemedy(path))
    .flatMap((path) =>
      [...gearChanges(path), ...ratioChanges(path), ...constantChanges(path)].map((change) =>
        remedyOf(vehicle, path, change),
      ),
    )
    .sort(rank)
}

function needsRemedy({ line, verdict }: EvaluatedPath): boolean {
  const error = line.indicatedPerTrue.value - 1
  return (
    error < REMEDY_AIM.minFraction || error > REMEDY_AIM.maxFraction || verdict?.result === 'does-not-conform'
  )
}
