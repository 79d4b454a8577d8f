import type { Stage } from '../drive-paths/path.js'
import type { Figure } from '../measure/figure.js'
import { standardUncertainty } from '../measure/uncertainty.js'
import { MILE_M } from '../measure/units.js'
import { factorOff, INPUT_ERROR_FACTOR } from './aim.js'
import type { EvaluatedPath } from './vehicle.js'

/** An input error that would explain a reading. */
export interface InputError {
  /** Place in the profile, as a JSON Pointer. */
  readonly pointer: string
  /** What is likely wrong. */
  readonly text: string
  /** What to check, in the imperative. */
  readonly look: string
  /** Indicated over true (or computed over measured) after correction. */
  readonly indicatedPerTrue: number
}

/** An input error is named only if its correction brings the reading within this factor of true. */
const EXPLAINED_FACTOR = 1.25

/** Maximum number of input errors named. */
const MAX_NAMED = 3

/** Standard deviations of the logarithm of a reading: of a car in original condition, and of one with other tires, gears or axle; common practice, no source. */
const AS_BUILT = 0.03
const CHANGED = 0.15

/** Prior odds of one wrong number in a profile against none; common practice, no source. */
const PRIOR_ODDS = 0.1

/** Minimum odds of an input error against the profile as given, for it to be named. */
const NAMED_FROM = 0.25

const KM_M = 1000

/** Likelihood of a slope: half the cars in original condition, half changed. */
function likelihood(slope: number, uRelative: number): number {
  const x = Math.log(slope)
  return weight(x, Math.hypot(AS_BUILT, uRelative)) + weight(x, Math.hypot(CHANGED, uRelative))
}

const weight = (x: number, s: number) => Math.exp((-x * x) / (2 * s * s)) / s

/** An input error that may explain a slope: what would be indicated per true without it, and its words, which are written if it is named. */
interface Suspect {
  readonly indicatedPerTrue: number
  readonly words: () => Omit<InputError, 'indicatedPerTrue'>
}

/** The input errors that explain a slope, likeliest first. */
function likeliest(slope: Figure, suspects: readonly Suspect[]): InputError[] {
  const uRelative = standardUncertainty(slope) / slope.value
  const asGiven = likelihood(slope.value, uRelative)
  return suspects
    .filter(({ indicatedPerTrue }) => factorOff(indicatedPerTrue) <= EXPLAINED_FACTOR)
    .map((one) => ({ one, odds: (PRIOR_ODDS * likelihood(one.indicatedPerTrue, uRelative)) / asGiven }))
    .filter(({ odds }) => odds >= NAMED_FROM)
    .sort((a, b) => b.odds - a.odds)
    .slice(0, MAX_NAMED)
    .map(({ one: { words, indicatedPerTrue } }) => ({ ...words(), indicatedPerTrue }))
}

const stageErrors = ({ path, index }: EvaluatedPath, slope: number): Suspect[] =>
  path.stages.flatMap((stage, place) => errorsOfStage(stage, `/paths/${index}/stages/${place}`, slope))

function errorsOfStage(stage: Stage, pointer: string, slope: number): Suspect[] {
  const { kind, ratio } = stage
  if (kind === 'pulse-ring') return []
  return [
    { indicatedPerTrue: slope / ratio.value ** 2, words: () => wrongWayRound(stage, pointer) },
    { indicatedPerTrue: slope / ratio.value, words: () => enteredTwice(stage, pointer) },
  ]
}

function wrongWayRound({ kind, name, teeth }: Stage, pointer: string): ReturnType<Suspect['words']> {
  const what = kind === 'pulse-scaler' ? 'pulses' : 'turns'
  const swapped =
    teeth !== undefined || kind === 'final-drive'
      ? 'driving and driven gear, or ring and pinion, swapped'
      : `give its ratio as ${what} out per ${what.slice(0, -1)} in`
  return {
    pointer,
    text: `${name} entered the wrong way round (${swapped})`,
    look:
      kind === 'pulse-scaler'
        ? `count the pulses into and out of ${name}`
        : `count the teeth of ${name}, or turn its input ten times by hand and count the turns of its output`,
  }
}

const enteredTwice = ({ name }: Stage, pointer: string): ReturnType<Suspect['words']> => ({
  pointer,
  text: `${name} entered twice (as a stage, and again within another stage or the constant of the head), or not fitted to the car`,
  look: `check whether ${name} is fitted to the car, and whether another stage or the constant of the head already includes its ratio`,
})

/** A head constant given per mile may be meant per kilometer, and the reverse. */
const WRONG_UNITS = [
  { given: 'perMile', text: 'a constant per kilometer entered as per mile', factor: KM_M / MILE_M },
  { given: 'perKm', text: 'a constant per mile entered as per kilometer', factor: MILE_M / KM_M },
] as const

const unitErrors = ({ path, index }: EvaluatedPath, slope: number): Suspect[] =>
  WRONG_UNITS.filter(({ given }) => (path.constantUnit ?? given) === given).map(({ text, factor }) => ({
    indicatedPerTrue: slope * factor,
    words: () => ({
      pointer: `/paths/${index}/head/constant`,
      text,
      look: 'read the unit beside the number on the head, or in the document that gives the constant',
    }),
  }))

/**
 * Input errors that would explain a reading, weighed against the profile as given.
 *
 *     odds = 0.1 · L(b′)/L(b) ≥ 0.25, b′ within a factor 1.25 of true      L(b) = Σ exp(−(ln b)²/2s²)/s,  s² = σ² + u²,  σ = 0.03 and 0.15
 *
 * b is the slope of the dial as the profile gives it, u its relative standard uncertainty, b′ the slope without the error: an inverted ratio, b/r²; a stage
 * given twice, b/r; a constant in the wrong unit, b · 1.609 or b/1.609. σ: cars in original condition, and cars with other tires, gears or axle.
 *
 * No input error explains a reading near true. With a measured output only the unit of the constant is considered, with a measured reading nothing.
 *
 * @param evaluated - The path, evaluated
 * @returns Input errors, likeliest first, at most three
 * @see JCGM 106:2012, 6.2 (prior and likelihood of a quantity); odds and deviations: common practice, no source
 * @example likelyInputErrors(evaluateVehiclePath(EXAMPLE_VEHICLE, 0)).length // 0 ± 0
 */
export function likelyInputErrors(evaluated: EvaluatedPath): InputError[] {
  const { line, basis } = evaluated
  if (basis === 'measured-reading') return []
  const slope = line.indicatedPerTrue
  return likeliest(slope, [
    ...(basis === 'computed' ? stageErrors(evaluated, slope.value) : []),
    ...unitErrors(evaluated, slope.value),
  ])
}

/**
 * Input errors that would explain why the value computed from tire, stages and head differs from the measured one.
 *
 *     as `likelyInputErrors`, with b = computed/measured
 *
 * b is 1 where both agree. The constant of the head is considered only where the reading was measured.
 *
 * @param evaluated - The path, evaluated
 * @param computedPerMeasured - b
 * @returns Input errors, likeliest first, at most three
 * @see JCGM 106:2012, 6.2 (prior and likelihood of a quantity); odds and deviations: common practice, no source
 * @example inputErrorsAgainstMeasured(evaluateVehiclePath(EXAMPLE_VEHICLE, 0), exact(3.7 ** 2))[0].pointer // "/paths/0/stages/0"
 */
export function inputErrorsAgainstMeasured(
  evaluated: EvaluatedPath,
  computedPerMeasured: Figure,
): InputError[] {
  const { value } = computedPerMeasured
  return likeliest(computedPerMeasured, [
    ...stageErrors(evaluated, value),
    ...(evaluated.basis === 'measured-reading' ? unitErrors(evaluated, value) : []),
  ])
}

/**
 * Whether a profile should be checked for input errors before any change to the car.
 *
 *     off by more than a factor 1.5, or an input error would explain the reading
 *
 * @param evaluated - The path, evaluated
 * @returns Whether it should
 * @see common practice, no source
 * @example isInputErrorLikely(evaluateVehiclePath(EXAMPLE_VEHICLE, 0)) // false
 */
export const isInputErrorLikely = (evaluated: EvaluatedPath) =>
  factorOff(evaluated.line.indicatedPerTrue.value) > INPUT_ERROR_FACTOR ||
  likelyInputErrors(evaluated).length > 0
