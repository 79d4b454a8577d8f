import { correlated } from '../measure/correlation.js'
import { COVERAGE_FACTOR, exact, type Figure, renamed, uncertain } from '../measure/figure.js'
import { figureOfRatio, type RatioInTerms, wholeRatio, wholeRatioOfDecimal } from '../measure/ratio.js'
import type { UnitKey } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import type { DriveSignal, Head, Stage, StageKind } from './path.js'

interface Named<K extends StageKind> {
  readonly kind: K
  readonly name?: string
}

interface ByRatio {
  readonly ratio: Figure
}

interface ByTeeth {
  readonly teeth: { readonly driving: number; readonly driven: number }
}

/** A stage as given: by its ratio, its teeth, or whole numbers. */
export type GivenStage =
  | (Named<'final-drive'> & (ByRatio | { readonly ring: number; readonly pinion: number }))
  | (Named<'gear-pair'> & ByTeeth)
  | (Named<'angle-drive' | 'adapter' | 'transfer-case'> & (ByRatio | ByTeeth))
  | (Named<'pulse-ring'> & { readonly pulsesPerTurn: number })
  | (Named<'pulse-scaler'> & (ByRatio | { readonly multiply: number; readonly divide: number }))

/** The own error of a head, as a calibration gives it. */
export interface GivenHeadErrors {
  readonly offsetMPerS?: Figure
  readonly scalePercent?: number
  /** 95 % [percentage points]. */
  readonly scalePercentPlusMinus?: number
  /** Of scale and offset; left out: 0. */
  readonly correlation?: number
}

/** A head as given: the turns or pulses per meter at which it reads true, its dial, and its own error. */
export interface GivenHead extends GivenHeadErrors {
  readonly input: DriveSignal
  readonly constantPerM: Figure
  readonly unit: UnitKey<'speed'>
  readonly dialMaxMPerS?: number
}

/** Name of a stage: the given name, or its position and kind. */
export const stageName = ({ kind, name }: { kind: string; name?: string }, index: number): string =>
  name ?? `stage ${index + 1} (${kind})`

/** Name of a stage in the budget: two stages with the same name are still independent inputs. */
const inputOf = (stage: { kind: string; name?: string }, index: number): string =>
  stage.name === undefined ? stageName(stage, index) : `${stage.name} (stage ${index + 1})`

const whole = (exactRatio: RatioInTerms) => ({ ratio: figureOfRatio(exactRatio), exactRatio })

function ratioOfStage(given: GivenStage, index: number): Pick<Stage, 'ratio' | 'exactRatio'> {
  if ('pulsesPerTurn' in given) return whole(wholeRatio(given.pulsesPerTurn, 1))
  if ('ring' in given) return whole(wholeRatio(given.ring, given.pinion))
  if ('teeth' in given) return whole(wholeRatio(given.teeth.driving, given.teeth.driven))
  if ('multiply' in given) return whole(wholeRatio(given.multiply, given.divide))
  const { ratio } = given
  if (ratio.contributions.length === 0) return whole(wholeRatioOfDecimal(ratio.value))
  return { ratio: renamed(ratio, () => `${inputOf(given, index)}: ratio`) }
}

/**
 * A stage with its ratio: exact where it is given in whole numbers or by a decimal without uncertainty.
 *
 *     r = ring/pinion, driving/driven, multiply/divide, pulses per turn, or the ratio itself
 *
 * @param given - The stage as given. Counts from 1, ratios 0.001 .. 10 000
 * @param index - Its place in the path, from 0
 * @returns The stage under its name; the uncertainty of its ratio is an input of its own
 * @throws {DomainError} `out-of-range`
 * @see EU 165/2014, Annex I (k, w and l are ratios of counts)
 * @example givenStage({ kind: 'final-drive', ring: 37, pinion: 9 }, 0).exactRatio // {"numerator":37,"denominator":9}
 * @example givenStage({ kind: 'adapter', ratio: exact(0.35) }, 1).name // "stage 2 (adapter)"
 */
export function givenStage(given: GivenStage, index: number): Stage {
  const { kind } = given
  const { ratio, exactRatio } = ratioOfStage(given, index)
  const stage: Mutable<Stage> = { kind, name: stageName(given, index), ratio }
  if (exactRatio !== undefined) stage.exactRatio = exactRatio
  if ('teeth' in given) stage.teeth = given.teeth
  return stage
}

/**
 * Scale and offset of a head from its calibration, correlated as it gives them.
 *
 *     scale = 1 + p/100      u(scale) = U(p)/200
 *
 * p is scalePercent, U(p) its uncertainty, u(scale) the standard uncertainty of the scale.
 *
 * @param given - Error of scale [%] and offset [m/s]; what is left out is zero
 * @returns Factor of the scale, and offset [m/s]
 * @throws {DomainError} `out-of-range`
 * @see JCGM 100:2008, 5.2.2 eq. (14), H.3 (slope and intercept of one line)
 * @example headErrors({ scalePercent: 2 }).scale.value // 1.02 ± 1e-12
 */
export function headErrors(given: GivenHeadErrors): Pick<Head, 'scale' | 'offsetMPerS'> {
  const { scalePercent = 0, scalePercentPlusMinus = 0, offsetMPerS = exact(0), correlation = 0 } = given
  const uncertainty = scalePercentPlusMinus / 100 / COVERAGE_FACTOR
  const scale = uncertain(1 + scalePercent / 100, 'head: scale', uncertainty)
  return { scale, offsetMPerS: correlated(offsetMPerS, scale, correlation) }
}

/** A head with its own error as factor and offset. */
export const givenHead = (given: GivenHead): Head => {
  const { input, constantPerM, dialMaxMPerS } = given
  const { scale, offsetMPerS } = headErrors(given)
  const head = { input, constantPerM, scale, offsetMPerS }
  return dialMaxMPerS === undefined ? head : Object.assign(head, { dialMaxMPerS })
}
