import { type Aim, ROUNDING } from '../drive-paths/judgment.js'
import { type Head, response, type Stage } from '../drive-paths/path.js'
import { solveStages } from '../drive-paths/solve.js'
import { exact, type Figure, product, quotient } from '../measure/figure.js'
import { type ExactRatio, figureOfRatio, ratioOf, ratioOfDecimal } from '../measure/ratio.js'
import { fromSi, toSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import type { TireGeometry } from '../tires/geometry.js'
import { factorOff, SLIP_FACTOR, slopesWithinAim } from './aim.js'
import type { EvaluatedPath, MeasuredPath, RecordedPart, VehiclePath } from './vehicle.js'

export type RemedyAction =
  | 'measure-rolling-circumference'
  | 'change-driven-gear'
  | 'change-driving-gear'
  | 'change-ratio-adapter'
  | 'change-angle-drive'
  | 'change-pulse-ring'
  | 'change-pulse-scaler'
  | 'change-head'
  | 'add-ratio-adapter'
  | 'set-pulse-scaler'
  | 'add-pulse-scaler'
  | 'set-head-constant'
  | 'set-pointer-zero'

/** Something that can be done to a path. */
export interface Change {
  readonly action: RemedyAction
  /** Where in the profile, as a JSON Pointer. */
  readonly pointer: string
  readonly text: string
  /** The path afterwards, with what then still holds of what was measured. */
  readonly path: VehiclePath
  /** The stage afterwards, where it is a stage. */
  readonly stage?: Stage
  /** The number that the head is set, recalibrated or changed to. */
  readonly constantPerM?: Figure
  readonly part?: RecordedPart
  /** The tires of its axle afterwards, where they are what is measured. */
  readonly tire?: TireGeometry
}

/** How many teeth a driven gear may gain or lose and still mesh at the same centers; common practice, no source. */
const DRIVEN_TEETH_RANGE = 6
const FEWEST_TEETH = 5

/** Most teeth of a wheel that a profile may name. */
const MAX_TEETH = 1000

/** Largest whole number in the ratio of an adapter, and of a scaler; common practice, no source. */
const ADAPTER_MAX_TERM = 40
const SCALER_MAX_TERM = 999

/** How far a number that is simply set, a pulse constant or a scaler, may be set from where it is; common practice, no source. */
const MAX_SET_FACTOR = 10

/** Most changes of one kind for one place. */
const MAX_OF_A_KIND = 2

const NONE = exact(0)

type Computed = NonNullable<MeasuredPath['computed']>

/** What was measured with a part in the path, after that part was changed: both rates go with the factor, and so does what was computed. */
function carried(measured: MeasuredPath | undefined, output: Figure, reading: Figure) {
  if (measured === undefined) return undefined
  const { outputPerM, indicatedPerTrue, computed } = measured
  const after: Mutable<MeasuredPath> = { ...measured }
  if (outputPerM !== undefined) after.outputPerM = product(outputPerM, output)
  if (indicatedPerTrue !== undefined) after.indicatedPerTrue = product(indicatedPerTrue, reading)
  if (computed !== undefined) {
    const then: Mutable<Computed> = {}
    if (computed.outputPerM !== undefined) then.outputPerM = computed.outputPerM * output.value
    if (computed.indicatedPerTrue !== undefined)
      then.indicatedPerTrue = computed.indicatedPerTrue * reading.value
    after.computed = then
  }
  return after
}

// Objects are put together by Object.assign: a spread is slow where properties follow it, and each change makes some.
const withMeasured = (path: VehiclePath, measured: MeasuredPath | undefined): VehiclePath =>
  measured === undefined ? path : Object.assign({}, path, { measured })

const withHead = (path: VehiclePath, set: Partial<Head>): VehiclePath =>
  Object.assign({}, path, { head: Object.assign({}, path.head, set) })

/** The path with another stage in one place, or with one more at its end. */
function withStage(path: VehiclePath, position: number, stage: Stage): VehiclePath {
  const before = path.stages[position]?.ratio ?? exact(1)
  const factor = quotient(stage.ratio, before)
  const stages = path.stages.toSpliced(position, 1, stage)
  return withMeasured(Object.assign({}, path, { stages }), carried(path.measured, factor, factor))
}

/** The path with another head, or one whose own error was taken away: a reading taken with the old one says nothing about it. */
function withNewHead(path: VehiclePath, constantPerM: Figure, scale: Figure): VehiclePath {
  const changed = withHead(path, { constantPerM, scale, offsetMPerS: NONE })
  const { measured } = path
  if (measured === undefined) return changed
  const kept: Mutable<MeasuredPath> = {}
  const { outputPerM, computed } = measured
  if (outputPerM !== undefined) {
    kept.outputPerM = outputPerM
    if (computed?.outputPerM !== undefined) kept.computed = { outputPerM: computed.outputPerM }
  }
  return Object.assign(changed, { measured: kept })
}

const isMeasuredAsAWhole = ({ measured }: VehiclePath) =>
  measured?.indicatedPerTrue !== undefined && measured.outputPerM === undefined

/** Turns or pulses per distance that are far from what the head takes were computed from a slip: no head is chosen by them. */
const isOutputFarOff = ({ line }: EvaluatedPath) => factorOff(line.odometerPerTrue.value) > SLIP_FACTOR

/** Said where a new head is chosen by turns or pulses that nobody counted, though the reading was measured. */
const countFirst = ({ path }: EvaluatedPath) =>
  isMeasuredAsAWhole(path)
    ? ` Count the ${path.head.takes} per distance first: they are computed, and the reading was measured with the head as it is.`
    : ''

const stageFrom = (stage: Pick<Stage, 'kind' | 'name'>, ratio: ExactRatio): Mutable<Stage> => ({
  kind: stage.kind,
  name: stage.name,
  ratio: figureOfRatio(ratio),
  exactRatio: ratio,
})

const toothed = (stage: Pick<Stage, 'kind' | 'name'>, driving: number, driven: number): Stage =>
  Object.assign(stageFrom(stage, ratioOf(driving, driven)), { teeth: { driving, driven } })

/** What solving takes for a path: the factor by which its dial is off, and the errors aimed at. */
interface Wanted {
  readonly slope: number
  readonly aim: Aim
}

function wantedOf({ line, speedsMPerS }: EvaluatedPath): Wanted {
  const { least, most } = slopesWithinAim(line, speedsMPerS)
  return {
    slope: line.indicatedPerTrue.value,
    aim: { minFraction: least - 1, maxFraction: most - 1 },
  }
}

/** Whole-number ratios for a place that now has `ratio`, best by the aim; none where the change would be absurd. */
function nearRatios({ slope, aim }: Wanted, ratio: number, maxTerm: number) {
  const exactProduct = ratio / slope
  if (!(exactProduct >= 1 / maxTerm && exactProduct <= maxTerm)) return []
  const { solutions } = solveStages(exactProduct, [{ by: 'max-term', maxTerm }], aim, MAX_OF_A_KIND)
  return solutions.map(({ choices }) => ({
    numerator: choices[0]!.numerator!,
    denominator: choices[0]!.denominator!,
  }))
}

function gearChanges({ path, index }: EvaluatedPath, { slope, aim }: Wanted): Change[] {
  return path.stages.flatMap((stage, position) => {
    const { teeth } = stage
    if (stage.kind !== 'gear-pair' || teeth === undefined) return []
    const driven = Array.from(
      { length: 2 * DRIVEN_TEETH_RANGE + 1 },
      (_, step) => teeth.driven - DRIVEN_TEETH_RANGE + step,
    ).filter((count) => count >= FEWEST_TEETH && count <= MAX_TEETH && count !== teeth.driven)
    if (driven.length === 0) return []
    const { solutions } = solveStages(
      teeth.driving / teeth.driven / slope,
      [{ by: 'teeth', driving: [teeth.driving], driven }],
      aim,
      MAX_OF_A_KIND,
    )
    return solutions.map(({ choices }): Change => {
      const made = toothed(stage, teeth.driving, choices[0]!.denominator!)
      return {
        action: 'change-driven-gear',
        pointer: `/paths/${index}/stages/${position}`,
        text: `Change the driven gear of ${stage.name} from ${teeth.driven} to ${made.teeth!.driven} teeth.`,
        path: withStage(path, position, made),
        stage: made,
      }
    })
  })
}

function adapterChanges({ path, index }: EvaluatedPath, wanted: Wanted): Change[] {
  const changed = path.stages.flatMap((stage, position): Change[] => {
    if (stage.kind !== 'ratio-adapter') return []
    return nearRatios(wanted, stage.ratio.value, ADAPTER_MAX_TERM).map(({ numerator, denominator }) => {
      const made = toothed(stage, numerator, denominator)
      return {
        action: 'change-ratio-adapter',
        pointer: `/paths/${index}/stages/${position}`,
        text: `Change ${stage.name} for one of ${numerator}:${denominator} (output turns : input turns).`,
        path: withStage(path, position, made),
        stage: made,
      }
    })
  })
  if (changed.length > 0) return changed
  return nearRatios(wanted, 1, ADAPTER_MAX_TERM).map(({ numerator, denominator }) => {
    const made = toothed({ kind: 'ratio-adapter', name: 'ratio adapter' }, numerator, denominator)
    return {
      action: 'add-ratio-adapter',
      pointer: `/paths/${index}/stages`,
      text: `Add a ratio adapter of ${numerator}:${denominator} (output turns : input turns) before the head.`,
      path: withStage(path, path.stages.length, made),
      stage: made,
    }
  })
}

function scalerChanges({ path, index }: EvaluatedPath, wanted: Wanted): Change[] {
  const changed = path.stages.flatMap((stage, position): Change[] => {
    if (stage.kind !== 'pulse-scaler') return []
    return nearRatios(wanted, stage.ratio.value, SCALER_MAX_TERM).map(({ numerator, denominator }) => {
      const made = stageFrom(stage, ratioOf(numerator, denominator))
      return {
        action: 'set-pulse-scaler',
        pointer: `/paths/${index}/stages/${position}`,
        text: `Set ${stage.name} to ${numerator} pulses out for ${denominator} in.`,
        path: withStage(path, position, made),
        stage: made,
      }
    })
  })
  if (changed.length > 0) return changed
  return nearRatios(wanted, 1, SCALER_MAX_TERM).map(({ numerator, denominator }) => {
    const made = stageFrom({ kind: 'pulse-scaler', name: 'pulse scaler' }, ratioOf(numerator, denominator))
    return {
      action: 'add-pulse-scaler',
      pointer: `/paths/${index}/stages`,
      text: `Add a pulse scaler of ${numerator} pulses out for ${denominator} in before the head.`,
      path: withStage(path, path.stages.length, made),
      stage: made,
    }
  })
}

/** A number as it is set or ordered: rounded down, so that the dial never reads less for it; whole, and to four digits below `wholeFrom`. */
function roundedDown(wanted: number, wholeFrom: number): number {
  const step = wanted >= wholeFrom ? 1 : 10 ** (Math.floor(Math.log10(wanted)) - 3)
  return Number((Math.floor(wanted / step + ROUNDING) * step).toPrecision(12))
}

const perUnit = ({ unit }: VehiclePath) =>
  unit === 'mph' ? (['perMile', 'mile'] as const) : (['perKm', 'kilometer'] as const)

/** What of the measured values holds once the zero is set. */
const zeroed = (measured: MeasuredPath | undefined) =>
  measured?.offsetMPerS === undefined ? measured : { ...measured, offsetMPerS: NONE }

/** A pulse head is set to another number: its own scale stays, and the uncertainty of the old number goes with it; its zero may be set as well. */
function pulseConstantChanges({ path, index, line, speedsMPerS }: EvaluatedPath): Change[] {
  const { head, measured } = path
  const now = head.constantPerM
  const [key, distance] = perUnit(path)
  const slope = product(line.indicatedPerTrue, quotient(now, exact(now.value)))
  const setTo = (offsetMPerS: Figure) => {
    const { least } = slopesWithinAim({ indicatedPerTrue: slope, offsetMPerS }, speedsMPerS)
    const number = roundedDown(fromSi('perDistance', key, (now.value * slope.value) / least), 100)
    const constantPerM = exact(toSi('perDistance', key, number))
    return { number, constantPerM, known: carried(measured, exact(1), quotient(now, constantPerM)) }
  }
  const alone = setTo(line.offsetMPerS)
  const change: Change = {
    action: 'set-head-constant',
    pointer: `/paths/${index}/head/constant`,
    text: `Set the head to ${alone.number} pulses per ${distance}.`,
    path: withMeasured(withHead(path, { constantPerM: alone.constantPerM }), alone.known),
    constantPerM: alone.constantPerM,
  }
  if (line.offsetMPerS.value === 0) return [change]
  // Its zero too, where the number is another; else the zero alone is to be set.
  const { number, constantPerM, known } = setTo(NONE)
  if (Math.abs(constantPerM.value / now.value - 1) < ROUNDING) return [change]
  return [
    change,
    {
      action: 'set-head-constant',
      pointer: `/paths/${index}/head`,
      text: `Set the head to ${number} pulses per ${distance}, and its zero: the offset of its reading, or the pointer on its spindle.`,
      path: withMeasured(withHead(path, { constantPerM, offsetMPerS: NONE }), zeroed(known)),
      constantPerM,
    },
  ]
}

/**
 * The workshop makes the head read true at the number of turns that the path gives: its own scale and offset go, and the counter, which
 * spring and magnet do not reach, keeps its constant. So the constant of the profile stays, and the new scale is constant / number.
 */
function recalibrations(evaluated: EvaluatedPath): Change[] {
  if (isOutputFarOff(evaluated)) return []
  const { path, index, outputPerM, speedsMPerS } = evaluated
  const { constantPerM } = path.head
  const [key, distance] = perUnit(path)
  const unscaled = response(outputPerM, Object.assign({}, path.head, { scale: exact(1), offsetMPerS: NONE }))
  const { least } = slopesWithinAim(unscaled, speedsMPerS)
  const number = roundedDown(fromSi('perDistance', key, outputPerM.value / least), 1000)
  const trueAtPerM = exact(toSi('perDistance', key, number))
  return [
    {
      action: 'set-head-constant',
      pointer: `/paths/${index}/head`,
      text: `Have the head recalibrated to ${number} turns per ${distance} (spring and magnet, by a gauge workshop).${countFirst(evaluated)}`,
      path: withNewHead(path, constantPerM, exact(constantPerM.value / trueAtPerM.value)),
      constantPerM: trueAtPerM,
    },
  ]
}

/** Where the dial is off by the same speed everywhere, its zero is wrong, and no ratio mends that. */
function zeroChanges({ path, index, line }: EvaluatedPath): Change[] {
  if (line.offsetMPerS.value === 0) return []
  const { head, measured } = path
  return [
    {
      action: 'set-pointer-zero',
      pointer: `/paths/${index}/head/offset`,
      text:
        head.takes === 'turns'
          ? 'Have the zero of the head set (pointer on its spindle, and hairspring, by a gauge workshop).'
          : 'Set the zero of the head: the offset of its reading, or the pointer on its spindle.',
      path: withMeasured(withHead(path, { offsetMPerS: NONE }), zeroed(measured)),
    },
  ]
}

/**
 * What can be done to a path, all else as it is, so that its dial reads within the aim, as near as the parts allow.
 *
 *     wanted ratio of a stage = ratio · t/b      pulse constant = constant · b/t      recalibrated to output/t,  t the least slope within the aim
 *
 * b is the slope of the dial as it is.
 *
 * In the order of the work that they usually are. Farther from true than `SLIP_FACTOR` nothing but a number that is simply set is offered, and that only for a profile that was looked through.
 *
 * @param evaluated - The path, evaluated
 * @param held - The same with what is unknown of its tire held: by this gears are chosen, which come in steps; all else is aimed over by all uncertainty
 * @returns The changes; some may leave the reading no better
 * @throws {DomainError} `not-finite`
 * @see US Army TM 5-3820-256-24-4 (new adapter, sometimes a new driven gear); TM 9-1829A (regulation of the head); ranges of teeth: common practice, no source
 * @example computedChanges(evaluateVehiclePath(EXAMPLE_VEHICLE, 0)).map((one) => one.action).slice(-1) // ["set-head-constant"]
 */
export function computedChanges(evaluated: EvaluatedPath, held = evaluated): Change[] {
  const off = factorOff(evaluated.line.indicatedPerTrue.value)
  if (off > MAX_SET_FACTOR) return []
  const pulses = evaluated.path.head.takes === 'pulses'
  const wanted = wantedOf(evaluated)
  const numbers = pulses ? [...pulseConstantChanges(evaluated), ...scalerChanges(evaluated, wanted)] : []
  if (off > SLIP_FACTOR) return numbers
  const cable = pulses ? [] : [...adapterChanges(evaluated, wanted), ...recalibrations(evaluated)]
  return [...gearChanges(evaluated, wantedOf(held)), ...numbers, ...cable, ...zeroChanges(evaluated)]
}

/** A recorded stage in the place of one of its kind. */
function stageOfPart(
  stage: Stage,
  part: RecordedPart,
): { action: RemedyAction; made: Stage; how: string } | undefined {
  const { teeth, ratio, pulsesPerTurn } = part
  const pair = stage.teeth
  if (stage.kind === 'gear-pair' && pair !== undefined && teeth !== undefined) {
    if (part.kind === 'driven-gear') {
      return {
        action: 'change-driven-gear',
        made: toothed(stage, pair.driving, teeth),
        how: `Change the driven gear of ${stage.name} from ${pair.driven} to ${teeth} teeth`,
      }
    }
    if (part.kind === 'driving-gear') {
      return {
        action: 'change-driving-gear',
        made: toothed(stage, teeth, pair.driven),
        how: `Change the driving gear of ${stage.name} from ${pair.driving} to ${teeth} teeth`,
      }
    }
  }
  if (stage.kind !== part.kind) return undefined
  if (part.kind === 'pulse-ring' && pulsesPerTurn !== undefined) {
    return {
      action: 'change-pulse-ring',
      made: stageFrom(stage, ratioOf(pulsesPerTurn, 1)),
      how: `Change ${stage.name} for one of ${pulsesPerTurn} pulses a turn`,
    }
  }
  if (ratio === undefined) return undefined
  const made = stageFrom(stage, ratioOfDecimal(ratio))
  if (part.kind === 'pulse-scaler')
    return {
      action: 'change-pulse-scaler',
      made,
      how: `Change ${stage.name} for one of ${ratio} pulses out per pulse in`,
    }
  const action = part.kind === 'ratio-adapter' ? 'change-ratio-adapter' : 'change-angle-drive'
  return { action, made, how: `Change ${stage.name} for one of ${ratio} turns out per turn in` }
}

const ADDED = {
  'ratio-adapter': { action: 'add-ratio-adapter', takes: 'turns', what: 'turns out per turn in' },
  'pulse-scaler': { action: 'add-pulse-scaler', takes: 'pulses', what: 'pulses out per pulse in' },
} as const

/**
 * Changes that a recorded part allows: whatever place in the path takes such a part.
 *
 *     a stage for one of its kind; one more adapter or scaler where there is none; another head
 *
 * Another head has no error of its own but the uncertainty of its constant, reads what the path gives it over that constant, and is taken to end at the same mark.
 *
 * @param evaluated - The path, evaluated
 * @param part - The part
 * @returns The changes; some may leave the reading no better
 * @throws {DomainError} `not-finite`
 * @see EU 165/2014, Annex I (indicated over true is w/k)
 * @example partChanges(evaluateVehiclePath(EXAMPLE_VEHICLE, 0), { id: 'a', kind: 'driven-gear', name: 'gear', teeth: 19 })[0].action // "change-driven-gear"
 */
export function partChanges(evaluated: EvaluatedPath, part: RecordedPart): Change[] {
  const { path, index, line } = evaluated
  if (factorOff(line.indicatedPerTrue.value) > SLIP_FACTOR) return []
  const recorded = `the recorded part "${part.name}"`
  const { kind, ratio, constantPerM } = part
  if (kind === 'head') {
    if (constantPerM === undefined || part.takes !== path.head.takes || isOutputFarOff(evaluated)) return []
    return [
      {
        action: 'change-head',
        pointer: `/paths/${index}/head`,
        text: `Change the head for ${recorded}.${countFirst(evaluated)}`,
        path: withNewHead(path, constantPerM, exact(1)),
        constantPerM,
        part,
      },
    ]
  }
  const changes = path.stages.flatMap((stage, position): Change[] => {
    const found = stageOfPart(stage, part)
    if (found === undefined) return []
    const { action, made, how } = found
    return [
      {
        action,
        pointer: `/paths/${index}/stages/${position}`,
        text: `${how}: ${recorded}.`,
        path: withStage(path, position, made),
        stage: made,
        part,
      },
    ]
  })
  if ((kind === 'ratio-adapter' || kind === 'pulse-scaler') && ratio !== undefined) {
    const { action, takes, what } = ADDED[kind]
    if (takes === path.head.takes && path.stages.every((stage) => stage.kind !== kind)) {
      const made = stageFrom({ kind, name: part.name }, ratioOfDecimal(ratio))
      changes.push({
        action,
        pointer: `/paths/${index}/stages`,
        text: `Add ${recorded}, ${ratio} ${what}, before the head.`,
        path: withStage(path, path.stages.length, made),
        stage: made,
        part,
      })
    }
  }
  return changes
}
