import { type Head, type Response, readingOf } from '../drive-paths/path.js'
import { solveStages } from '../drive-paths/solve.js'
import { type Verdict, worstSpeedVerdict } from '../gauges/verdicts.js'
import { exact, type Figure, scaled } from '../measure/figure.js'
import { fromSi, toSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import type { EvaluatedPath, RecordedPart, RemedyCost, Vehicle } from './vehicle.js'

export type RemedyAction =
  | 'change-driven-gear'
  | 'change-driving-gear'
  | 'change-ratio-adapter'
  | 'change-angle-drive'
  | 'change-pulse-ring'
  | 'change-head'
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
  /** The recorded part that it takes; absent for a computed ideal. */
  readonly part?: RecordedPart
  readonly cost?: RemedyCost & { readonly total?: number }
}

/** A reading is to be true to 4 % over, never under. */
export const REMEDY_AIM = { minFraction: 0, maxFraction: 0.04 }

/** How many teeth a driven gear may gain or lose and still mesh at the same centers; common practice, no source. */
const DRIVEN_TEETH_RANGE = 6
const FEWEST_TEETH = 5

/** Most teeth of a wheel that a profile may name. */
const MOST_TEETH = 1000

/** Largest whole number in the ratio of an adapter, and of a scaler; common practice, no source. */
const ADAPTER_MAX_TERM = 40
const SCALER_MAX_TERM = 999

/** Most recorded parts that are offered for one path. */
const MOST_RECORDED = 8

const NO_OFFSET = exact(0)

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
  readonly part?: RecordedPart
  /** Another head: the own error of the old one goes with it. */
  readonly newHead?: boolean
}

/** Whole-number ratios for a place that now has `ratio`, best by the aim; none where the change would be absurd. */
function nearRatios(ratio: number, slope: number, maxTerm: number) {
  const wanted = ratio / slope
  if (!(wanted >= 1 / maxTerm && wanted <= maxTerm)) return []
  const { solutions } = solveStages(wanted, [{ by: 'max-term', maxTerm }], REMEDY_AIM, MOST_OF_A_KIND)
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
    ).filter((count) => count >= FEWEST_TEETH && count <= MOST_TEETH && count !== teeth.driven)
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

/** Changes that a recorded part allows: whatever place in the path takes such a part. */
function partChanges(evaluated: EvaluatedPath, part: RecordedPart): Change[] {
  const { path, index, line } = evaluated
  const at = (position: number) => `/paths/${index}/stages/${position}`
  const recorded = `the recorded part "${part.name}"`
  const { teeth, ratio, pulsesPerTurn, constantPerM } = part
  if (part.kind === 'head') {
    if (constantPerM === undefined || part.takes !== path.head.takes) return []
    return [
      {
        action: 'change-head',
        pointer: `/paths/${index}/head`,
        text: `Change the head for ${recorded}.`,
        factor: path.head.constantPerM.value / constantPerM.value / path.head.scale.value,
        recordFactor: path.head.constantPerM.value / constantPerM.value,
        constantPerM,
        part,
        newHead: true,
      },
    ]
  }
  const places = path.stages.flatMap((stage, position): Change[] => {
    const pair = stage.teeth
    if (stage.kind === 'gear-pair' && pair !== undefined && teeth !== undefined) {
      if (part.kind === 'driven-gear' && teeth !== pair.driven) {
        const made = { numerator: pair.driving, denominator: teeth }
        return [
          {
            action: 'change-driven-gear',
            pointer: at(position),
            text: `Change the driven gear of ${stage.name} from ${pair.driven} to ${teeth} teeth: ${recorded}.`,
            factor: pair.driven / teeth,
            stage: made,
            part,
          },
        ]
      }
      if (part.kind === 'driving-gear' && teeth !== pair.driving) {
        const made = { numerator: teeth, denominator: pair.driven }
        return [
          {
            action: 'change-driving-gear',
            pointer: at(position),
            text: `Change the driving gear of ${stage.name} from ${pair.driving} to ${teeth} teeth: ${recorded}.`,
            factor: teeth / pair.driving,
            stage: made,
            part,
          },
        ]
      }
    }
    if (
      stage.kind === 'pulse-ring' &&
      part.kind === 'pulse-ring' &&
      pulsesPerTurn !== undefined &&
      pulsesPerTurn !== stage.ratio.value
    ) {
      return [
        {
          action: 'change-pulse-ring',
          pointer: at(position),
          text: `Change ${stage.name} for ${recorded}, ${pulsesPerTurn} pulses a turn.`,
          factor: pulsesPerTurn / stage.ratio.value,
          part,
        },
      ]
    }
    if (
      stage.kind === part.kind &&
      ratio !== undefined &&
      ratio !== stage.ratio.value &&
      (part.kind === 'ratio-adapter' || part.kind === 'angle-drive')
    ) {
      const action = part.kind === 'ratio-adapter' ? 'change-ratio-adapter' : 'change-angle-drive'
      return [
        {
          action,
          pointer: at(position),
          text: `Change ${stage.name} for ${recorded}, ${ratio} turns out per turn in.`,
          factor: ratio / stage.ratio.value,
          part,
        },
      ]
    }
    return []
  })
  const hasAdapter = path.stages.some(({ kind }) => kind === 'ratio-adapter')
  if (part.kind === 'ratio-adapter' && ratio !== undefined && !hasAdapter && path.head.takes === 'turns') {
    places.push({
      action: 'add-ratio-adapter',
      pointer: `/paths/${index}/stages`,
      text: `Add ${recorded}, ${ratio} turns out per turn in, before the head.`,
      factor: ratio,
      part,
    })
  }
  // A part that leaves the reading no nearer to true than it is puts nothing right.
  const now = Math.abs(line.indicatedPerTrue.value - 1)
  return places.filter(({ factor }) => Math.abs(line.indicatedPerTrue.value * factor - 1) < now)
}

/** What a change costs, as far as the caller said. */
function costOf(vehicle: Vehicle, action: RemedyAction): Remedy['cost'] {
  const known = vehicle.costs?.[action]
  if (known === undefined) return undefined
  const { pricePerHour } = vehicle
  const hours = (known.minutes ?? 0) / 60
  if (known.price === undefined && (known.minutes === undefined || pricePerHour === undefined)) return known
  return { ...known, total: (known.price ?? 0) + hours * (pricePerHour ?? 0) }
}

function remedyOf(vehicle: Vehicle, evaluated: EvaluatedPath, change: Change): Remedy {
  const { line, path } = evaluated
  const after: Response = {
    indicatedPerTrue: scaled(line.indicatedPerTrue, change.factor),
    offsetMPerS: change.newHead === true ? NO_OFFSET : line.offsetMPerS,
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
  const verdict = worstSpeedVerdict(vehicle.rule, readingOf(after), evaluated.speedsMPerS, {
    dialMaxMPerS: path.head.dialMaxMPerS,
    topSpeedMPerS: vehicle.topSpeedMPerS,
  })
  if (verdict !== undefined) remedy.verdict = verdict
  if (change.stage !== undefined) remedy.stage = change.stage
  if (change.constantPerM !== undefined) remedy.constantPerM = change.constantPerM
  if (change.part !== undefined) remedy.part = change.part
  const cost = costOf(vehicle, change.action)
  if (cost !== undefined) remedy.cost = cost
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

const verdictRank = ({ verdict }: Remedy) =>
  verdict === undefined || verdict.result === 'conforms' ? 0 : verdict.result === 'not-proven' ? 1 : 2

/** A recorded part comes before a computed ideal, unless its fit statements speak against it. */
const partRank = ({ part }: Remedy) => (part === undefined ? 1 : (part.support ?? 0.5) < 0.5 ? 2 : 0)

/** Costs are compared only where both are known. */
const costDifference = (a: Remedy, b: Remedy) =>
  a.cost?.total === undefined || b.cost?.total === undefined ? 0 : a.cost.total - b.cost.total

/** Best first: within the aim; least likely to break the rule; a recorded part; least left wrong; cheapest; nearest to true. */
function rank(a: Remedy, b: Remedy): number {
  return (
    Number(b.withinAim) - Number(a.withinAim) ||
    verdictRank(a) - verdictRank(b) ||
    partRank(a) - partRank(b) ||
    a.leaves.length - b.leaves.length ||
    costDifference(a, b) ||
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
 * @param parts - Recorded parts that may stand in a path; each comes before a computed ideal
 * @returns Remedies; none for a path that needs none
 * @throws {DomainError} `rule-needs-dial-max`
 * @see US Army TM 5-3820-256-24-4 (new adapter, sometimes a new driven gear); TM 9-1829A (regulation of the head); ranges of teeth: common practice, no source
 * @example vehicleRemedies(EXAMPLE_VEHICLE, [evaluateVehiclePath(EXAMPLE_VEHICLE, 0)]).some((r) => r.action === 'change-driven-gear' && r.stage.denominator === 19) // true
 */
export function vehicleRemedies(
  vehicle: Vehicle,
  evaluated: readonly EvaluatedPath[],
  parts: readonly RecordedPart[] = [],
): Remedy[] {
  return evaluated
    .filter((path) => needsRemedy(path))
    .flatMap((path) => {
      const ideal = [...gearChanges(path), ...ratioChanges(path), ...constantChanges(path)]
      const recorded = parts
        .flatMap((part) => partChanges(path, part))
        .map((change) => remedyOf(vehicle, path, change))
      return [
        ...recorded.sort(rank).slice(0, MOST_RECORDED),
        ...ideal.map((change) => remedyOf(vehicle, path, change)),
      ]
    })
    .sort(rank)
}

function needsRemedy({ line, verdict }: EvaluatedPath): boolean {
  const error = line.indicatedPerTrue.value - 1
  return (
    error < REMEDY_AIM.minFraction || error > REMEDY_AIM.maxFraction || verdict?.result === 'does-not-conform'
  )
}
