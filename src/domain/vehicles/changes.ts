import { type Aim, bestSlope, ROUNDING } from '../drive-paths/judgment.js'
import { type Head, type Response, response, type Stage } from '../drive-paths/path.js'
import { solveStages } from '../drive-paths/solve.js'
import { exact, type Figure } from '../measure/figure.js'
import { product, quotient } from '../measure/propagation.js'
import { figureOfRatio, type RatioInTerms, wholeRatio } from '../measure/ratio.js'
import { fromSi, toSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import type { TireGeometry } from '../tires/geometry.js'
import { factorOff, INPUT_ERROR_FACTOR, slopesWithinAim } from './aim.js'
import {
  type EvaluatedPath,
  type MeasuredPath,
  type PathFrame,
  pathFrom,
  type RecordedPart,
  type VehiclePath,
} from './vehicle.js'

export type RemedyAction =
  | 'measure-rolling-circumference'
  | 'change-driven-gear'
  | 'change-driving-gear'
  | 'change-adapter'
  | 'change-angle-drive'
  | 'change-pulse-ring'
  | 'change-pulse-scaler'
  | 'change-head'
  | 'add-adapter'
  | 'set-pulse-scaler'
  | 'add-pulse-scaler'
  | 'set-head-constant'
  | 'set-pointer-zero'

/** A change that can be made to a path. */
export interface Change {
  readonly action: RemedyAction
  /** Place in the profile, as a JSON Pointer. */
  readonly pointer: string
  readonly text: string
  /** The path after the change, with the measured values that remain valid. */
  readonly path: VehiclePath
  /** The stage after the change, if the change is to a stage. */
  readonly stage?: Stage
  /** The constant to which the head is set, recalibrated or changed. */
  readonly constantPerM?: Figure
  readonly part?: RecordedPart
  /** The tires of the axle after the change, if the change is a measurement of them. */
  readonly tire?: TireGeometry
}

/** How many teeth a driven gear may gain or lose and still mesh at the same center distance; common practice, no source. */
const DRIVEN_TEETH_RANGE = 6
const MIN_TEETH = 5

/** Maximum tooth count in a profile. */
const MAX_TEETH = 1000

/** Largest whole number in the ratio of an adapter, and of a scaler; common practice, no source. */
const ADAPTER_MAX_TERM = 40
const SCALER_MAX_TERM = 999

/** Maximum factor by which an adjustable number (pulse constant or scaler) may change; common practice, no source. */
const MAX_SET_FACTOR = 10

/** Maximum number of changes of one kind at one place. */
const MAX_OF_A_KIND = 2

const NONE = exact(0)

type Computed = NonNullable<MeasuredPath['computed']>

/** Measured values carried over a change of a part: output and indicated ÷ true scale with their factors, and so do the computed values stored with them. */
function carried(measured: MeasuredPath, output: Figure, reading: Figure): MeasuredPath {
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

const headWith = (
  { input, dialMaxMPerS }: Head,
  constantPerM: Figure,
  scale: Figure,
  offsetMPerS: Figure,
): Head => {
  const head: Mutable<Head> = { input, constantPerM, scale, offsetMPerS }
  if (dialMaxMPerS !== undefined) head.dialMaxMPerS = dialMaxMPerS
  return head
}

/** The path with a stage replaced, or with one more stage at its end. */
export const withStage = (path: VehiclePath, position: number, stage: Stage): VehiclePath => {
  const { measured } = path
  const stages = path.stages.toSpliced(position, 1, stage)
  if (measured === undefined) return pathFrom(path, stages, path.head, undefined)
  const factor = quotient(stage.ratio, path.stages[position]?.ratio ?? exact(1))
  return pathFrom(path, stages, path.head, carried(measured, factor, factor))
}

/** The path with another head, or with a recalibrated one: readings taken with the old head no longer apply. */
export const withNewHead = (path: VehiclePath, constantPerM: Figure, scale: Figure): VehiclePath => {
  const head = headWith(path.head, constantPerM, scale, NONE)
  const { measured } = path
  if (measured === undefined) return pathFrom(path, path.stages, head, undefined)
  const kept: Mutable<MeasuredPath> = {}
  const { outputPerM, computed } = measured
  if (outputPerM !== undefined) {
    kept.outputPerM = outputPerM
    if (computed?.outputPerM !== undefined) kept.computed = { outputPerM: computed.outputPerM }
  }
  return pathFrom(path, path.stages, head, kept)
}

const isMeasuredAsAWhole = ({ measured }: VehiclePath) =>
  measured?.indicatedPerTrue !== undefined && measured.outputPerM === undefined

/** Whether the turns or pulses per distance are so far from the constant of the head that an input error is likely: no head is chosen by them. */
export const isOutputFarOff = ({ line }: EvaluatedPath) =>
  factorOff(line.odometerPerTrue.value) > INPUT_ERROR_FACTOR

/** Advice where a new head is chosen by turns or pulses that are computed, not counted, though the reading was measured. */
export const countFirst = ({ path }: EvaluatedPath) =>
  isMeasuredAsAWhole(path)
    ? ` Count the ${path.head.input} per distance first: they are computed, and the reading was measured with the head as it is.`
    : ''

export const stageFrom = (stage: Pick<Stage, 'kind' | 'name'>, ratio: RatioInTerms): Mutable<Stage> => ({
  kind: stage.kind,
  name: stage.name,
  ratio: figureOfRatio(ratio),
  exactRatio: ratio,
})

export const toothed = (stage: Pick<Stage, 'kind' | 'name'>, driving: number, driven: number): Stage =>
  Object.assign(stageFrom(stage, wholeRatio(driving, driven)), { teeth: { driving, driven } })

/** Input of the search for a path: the factor by which its dial is off, and the errors aimed for. */
interface Wanted {
  readonly slope: number
  readonly aim: Aim
}

function wantedOf(line: Response, { judgedMPerS }: PathFrame): Wanted {
  const { min, max } = slopesWithinAim(line, judgedMPerS)
  return {
    slope: line.indicatedPerTrue.value,
    aim: { minFraction: min - 1, maxFraction: max - 1 },
  }
}

/** Whole-number ratios to replace `ratio`, best first by the aim; none where the change would be absurd. */
function nearRatios({ slope, aim }: Wanted, ratio: number, maxTerm: number) {
  const exactProduct = ratio / slope
  if (!(exactProduct >= 1 / maxTerm && exactProduct <= maxTerm)) return []
  const { solutions } = solveStages(exactProduct, [{ maxTerm }], aim, MAX_OF_A_KIND)
  return solutions.map(({ choices }) => ({
    numerator: choices[0]!.numerator!,
    denominator: choices[0]!.denominator!,
  }))
}

/**
 * The counts among which the best ones are: the errors of a dial grow from count to count away from the best slope, and where the aim lies below true
 * also from a true reading up, since over-reading ranks before under-reading. One more than asked for on either side of each, against rounding.
 */
function besideTarget(counts: readonly number[], trueAt: number, aim: Aim): readonly number[] {
  const slope = bestSlope(aim)
  const targets = slope < 1 ? [trueAt / slope, trueAt] : [trueAt / slope]
  return counts.filter((_, place) =>
    targets.some((target) => {
      const below = counts[place + MAX_OF_A_KIND + 1]
      const above = counts[place - MAX_OF_A_KIND - 1]
      return (below === undefined || below > target) && (above === undefined || above < target)
    }),
  )
}

function gearChanges({ path, index }: EvaluatedPath, { slope, aim }: Wanted): Change[] {
  return path.stages.flatMap((stage, position) => {
    const { teeth } = stage
    if (stage.kind !== 'gear-pair' || teeth === undefined) return []
    const driven = Array.from(
      { length: 2 * DRIVEN_TEETH_RANGE + 1 },
      (_, step) => teeth.driven - DRIVEN_TEETH_RANGE + step,
    ).filter((count) => count >= MIN_TEETH && count <= MAX_TEETH && count !== teeth.driven)
    if (driven.length === 0) return []
    const exactProduct = teeth.driving / teeth.driven / slope
    const { solutions } = solveStages(
      exactProduct,
      [{ driving: [teeth.driving], driven: besideTarget(driven, teeth.driving / exactProduct, aim) }],
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
    if (stage.kind !== 'adapter') return []
    return nearRatios(wanted, stage.ratio.value, ADAPTER_MAX_TERM).map(({ numerator, denominator }) => {
      const made = toothed(stage, numerator, denominator)
      return {
        action: 'change-adapter',
        pointer: `/paths/${index}/stages/${position}`,
        text: `Replace ${stage.name} by one of ${numerator}:${denominator} (output turns : input turns).`,
        path: withStage(path, position, made),
        stage: made,
      }
    })
  })
  if (changed.length > 0) return changed
  return nearRatios(wanted, 1, ADAPTER_MAX_TERM).map(({ numerator, denominator }) => {
    const made = toothed({ kind: 'adapter', name: 'ratio adapter' }, numerator, denominator)
    return {
      action: 'add-adapter',
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
      const made = stageFrom(stage, wholeRatio(numerator, denominator))
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
    const made = stageFrom({ kind: 'pulse-scaler', name: 'pulse scaler' }, wholeRatio(numerator, denominator))
    return {
      action: 'add-pulse-scaler',
      pointer: `/paths/${index}/stages`,
      text: `Add a pulse scaler of ${numerator} pulses out for ${denominator} in before the head.`,
      path: withStage(path, path.stages.length, made),
      stage: made,
    }
  })
}

/** A constant as it is set or ordered: rounded down, so that rounding never makes the dial under-read; whole numbers from `wholeFrom` up, four digits below. */
function roundedDown(wanted: number, wholeFrom: number): number {
  const step = wanted >= wholeFrom ? 1 : 10 ** (Math.floor(Math.log10(wanted)) - 3)
  return Number((Math.floor(wanted / step + ROUNDING) * step).toPrecision(12))
}

const perUnit = ({ unit }: VehiclePath) =>
  unit === 'mph' ? (['perMile', 'mile'] as const) : (['perKm', 'kilometer'] as const)

/** The measured values after the zero is set. */
const zeroed = (measured: MeasuredPath | undefined) =>
  measured?.offsetMPerS === undefined ? measured : { ...measured, offsetMPerS: NONE }

/** Sets a pulse head to another constant, with or without setting its zero: its own scale error remains, and the uncertainty of the old constant no longer counts. */
function pulseConstantChanges({ path, index, line, frame }: EvaluatedPath): Change[] {
  const { head, measured } = path
  const now = head.constantPerM
  const [key, distance] = perUnit(path)
  const slope = product(line.indicatedPerTrue, quotient(now, exact(now.value)))
  const setTo = (offsetMPerS: Figure) => {
    const { min } = slopesWithinAim({ indicatedPerTrue: slope, offsetMPerS }, frame.judgedMPerS)
    const number = roundedDown(fromSi('perDistance', key, (now.value * slope.value) / min), 100)
    const constantPerM = exact(toSi('perDistance', key, number))
    const known =
      measured === undefined ? undefined : carried(measured, exact(1), quotient(now, constantPerM))
    return { number, constantPerM, known }
  }
  const alone = setTo(line.offsetMPerS)
  const change: Change = {
    action: 'set-head-constant',
    pointer: `/paths/${index}/head/constant`,
    text: `Set the head to ${alone.number} pulses per ${distance}.`,
    path: pathFrom(
      path,
      path.stages,
      headWith(head, alone.constantPerM, head.scale, head.offsetMPerS),
      alone.known,
    ),
    constantPerM: alone.constantPerM,
  }
  if (line.offsetMPerS.value === 0) return [change]
  // With the zero set as well, if that leads to another constant; otherwise setting the zero alone is enough.
  const { number, constantPerM, known } = setTo(NONE)
  if (Math.abs(constantPerM.value / now.value - 1) < ROUNDING) return [change]
  return [
    change,
    {
      action: 'set-head-constant',
      pointer: `/paths/${index}/head`,
      text: `Set the head to ${number} pulses per ${distance}, and set its zero (offset of the display, or pointer on its spindle).`,
      path: pathFrom(path, path.stages, headWith(head, constantPerM, head.scale, NONE), zeroed(known)),
      constantPerM,
    },
  ]
}

/**
 * The instrument repairer makes the head read true at the turns per distance of the path. Its own scale error and offset vanish. The odometer, which
 * spring and magnet do not affect, keeps its constant, so the constant of the profile remains and the new scale is constant / number.
 */
function recalibrations(evaluated: EvaluatedPath): Change[] {
  if (isOutputFarOff(evaluated)) return []
  const { path, index, outputPerM, frame } = evaluated
  const { constantPerM } = path.head
  const [key, distance] = perUnit(path)
  const unscaled = response(outputPerM, headWith(path.head, constantPerM, exact(1), NONE))
  const { min } = slopesWithinAim(unscaled, frame.judgedMPerS)
  const number = roundedDown(fromSi('perDistance', key, outputPerM.value / min), 1000)
  const trueAtPerM = exact(toSi('perDistance', key, number))
  return [
    {
      action: 'set-head-constant',
      pointer: `/paths/${index}/head`,
      text: `Have the head recalibrated to ${number} turns per ${distance} (spring and magnet, by an instrument repairer).${countFirst(evaluated)}`,
      path: withNewHead(path, constantPerM, exact(constantPerM.value / trueAtPerM.value)),
      constantPerM: trueAtPerM,
    },
  ]
}

/** An error that is the same at every speed is a zero error, which no ratio corrects. */
function zeroChanges({ path, index, line }: EvaluatedPath): Change[] {
  if (line.offsetMPerS.value === 0) return []
  const { head, measured } = path
  return [
    {
      action: 'set-pointer-zero',
      pointer: `/paths/${index}/head/offset`,
      text:
        head.input === 'turns'
          ? 'Have the zero of the head set (pointer on its spindle, and hairspring, by an instrument repairer).'
          : 'Set the zero of the head (offset of the display, or pointer on its spindle).',
      path: pathFrom(
        path,
        path.stages,
        headWith(head, head.constantPerM, head.scale, NONE),
        zeroed(measured),
      ),
    },
  ]
}

/**
 * Single changes to a path that bring its dial within the aim, or as near to it as the parts allow.
 *
 *     wanted ratio of a stage = ratio · t/b      pulse constant = constant · b/t      recalibrated to output/t,  t the minimum slope within the aim
 *
 * b is the present slope of the dial.
 *
 * Ordered by increasing work. Beyond `INPUT_ERROR_FACTOR` only changes of an adjustable number are offered, after the profile has been checked.
 *
 * @param evaluated - The path, evaluated
 * @param held - Its reading with the tire at its exact estimate: gears, which come in steps, are chosen by this; all other changes allow for the whole uncertainty
 * @returns The changes; some may leave the reading no better
 * @throws {DomainError} `not-finite`
 * @see US Army TM 5-3820-256-24-4 (new adapter, sometimes a new driven gear); TM 9-1829A (regulation of the head); ranges of teeth: common practice, no source
 * @example computedChanges(evaluateVehiclePath(EXAMPLE_VEHICLE, 0)).map((one) => one.action).slice(-1) // ["set-head-constant"]
 */
export function computedChanges(evaluated: EvaluatedPath, held: Response = evaluated.line): Change[] {
  const off = factorOff(evaluated.line.indicatedPerTrue.value)
  if (off > MAX_SET_FACTOR) return []
  const pulses = evaluated.path.head.input === 'pulses'
  const wanted = wantedOf(evaluated.line, evaluated.frame)
  const numbers = pulses ? [...pulseConstantChanges(evaluated), ...scalerChanges(evaluated, wanted)] : []
  if (off > INPUT_ERROR_FACTOR) return numbers
  const cable = pulses ? [] : [...adapterChanges(evaluated, wanted), ...recalibrations(evaluated)]
  const gears = gearChanges(evaluated, held === evaluated.line ? wanted : wantedOf(held, evaluated.frame))
  return [...gears, ...numbers, ...cable, ...zeroChanges(evaluated)]
}
