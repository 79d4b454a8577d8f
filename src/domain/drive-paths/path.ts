import { DomainError } from '../errors.js'
import { contributionOf } from '../measure/budget.js'
import { exact, type Figure } from '../measure/figure.js'
import { product, quotient, scaled, sum } from '../measure/propagation.js'
import { figureOfRatio, productOfRatios, type RatioInTerms } from '../measure/ratio.js'
import {
  type Rectangle,
  reachBelow,
  type Spread,
  scaledRectangles,
  spreadFrom,
  widened,
} from '../measure/spread.js'
import { spreadOf } from '../measure/uncertainty.js'

export type DriveSignal = 'turns' | 'pulses'

export type StageKind =
  | 'final-drive'
  | 'gear-pair'
  | 'angle-drive'
  | 'adapter'
  | 'transfer-case'
  | 'pulse-ring'
  | 'pulse-scaler'

/** One stage with its ratio, output over input (turns or pulses), exact where it is a ratio of whole numbers. */
export interface Stage {
  readonly kind: StageKind
  /** Name in answers and budgets. */
  readonly name: string
  readonly ratio: Figure
  /** The same ratio in whole numbers; absent when it carries uncertainty. */
  readonly exactRatio?: RatioInTerms
  /** Teeth of a pair, where they are known. */
  readonly teeth?: { readonly driving: number; readonly driven: number }
}

/** The speedometer: turns or pulses per meter at which it reads true, and its own error. */
export interface Head {
  readonly input: DriveSignal
  readonly constantPerM: Figure
  /** Factor of the head's own scale error, 1 for none. */
  readonly scale: Figure
  /** The head's own offset: reading at standstill [m/s]. */
  readonly offsetMPerS: Figure
  readonly dialMaxMPerS?: number
}

/** Turns per meter of what leaves the wheel or a stage; pulses per meter from a pulse ring on. */
export type Shaft =
  | { readonly after: string; readonly turnsPerM: Figure }
  | { readonly after: string; readonly pulsesPerM: Figure }

/** Turns or pulses per meter of a shaft. */
export const shaftPerM = (shaft: Shaft): Figure => ('turnsPerM' in shaft ? shaft.turnsPerM : shaft.pulsesPerM)

export interface PathOutput {
  readonly shafts: readonly Shaft[]
  readonly signal: DriveSignal
  /** Turns or pulses per meter at the end of the path [1/m]. */
  readonly outputPerM: Figure
  /** Product of the stages. */
  readonly stagesRatio: Figure
  /** The same in whole numbers, when no stage carries uncertainty. */
  readonly stagesRatioExact?: RatioInTerms
}

/**
 * Rejects an impossible order of stages: rotating stages come first, then at most one pulse ring, then pulse scalers.
 *
 *     wheel → rotating stages → (pulse ring → pulse scalers)
 *
 * @param kinds - Kinds of the stages in order from wheel to dial
 * @returns Turns or pulses: the signal at the end of the path
 * @throws {DomainError} `path-order`, with the pointer of the stage
 * @see EU 165/2014, Annex I (the path of a recording equipment: shaft turns, then pulses)
 * @example signalOf(['final-drive', 'pulse-ring', 'pulse-scaler']) // "pulses"
 * @example signalOf(['pulse-scaler']) // throws path-order
 */
export function signalOf(kinds: readonly StageKind[]): DriveSignal {
  let signal: DriveSignal = 'turns'
  for (let index = 0; index < kinds.length; index++) {
    const kind = kinds[index]!
    if (kind === 'pulse-ring') {
      if (signal === 'pulses') throw orderError(index, 'a second pulse-ring; a path has at most one')
      signal = 'pulses'
    } else if (kind === 'pulse-scaler') {
      if (signal === 'turns') {
        throw orderError(
          index,
          'pulse-scaler before any pulse-ring; a scaler needs pulses, so put a pulse-ring before it',
        )
      }
    } else if (signal === 'pulses') {
      throw orderError(
        index,
        `${kind} after the pulse-ring; from the ring on the path carries pulses, so put the ${kind} before the ring`,
      )
    }
  }
  return signal
}

const orderError = (index: number, text: string) =>
  new DomainError('path-order', `stages/${index}: ${text}`, { pointer: `/stages/${index}` })

/**
 * Rejects a head of another kind than the path: turns or pulses.
 *
 *     input of the head = signal of the path
 *
 * @param signal - Turns or pulses: the signal at the end of the path
 * @param head - The head
 * @throws {DomainError} `head-does-not-fit-path`
 * @see EU 165/2014, Annex I (k and w are of one kind)
 * @example checkHeadFits('turns', { input: 'pulses' }) // throws head-does-not-fit-path
 */
export function checkHeadFits(signal: DriveSignal, head: Pick<Head, 'input'>): void {
  if (head.input === signal) return
  const fix = signal === 'turns' ? 'add a pulse-ring to the stages' : 'remove the pulse-ring from the stages'
  throw new DomainError(
    'head-does-not-fit-path',
    `head: it takes ${head.input}, but the path delivers ${signal}; ${fix}, or give a head that takes ${signal}`,
    {
      pointer: '/head/input',
    },
  )
}

/** Product of the ratios of stages in whole numbers: no digit is lost with any number of stages. Undefined where one carries uncertainty, and without stages. */
function exactProduct(stages: readonly Stage[]): RatioInTerms | undefined {
  let exactRatio: RatioInTerms | undefined
  for (const stage of stages) {
    if (stage.exactRatio === undefined) return undefined
    exactRatio = exactRatio === undefined ? stage.exactRatio : productOfRatios(exactRatio, stage.exactRatio)
  }
  return exactRatio
}

/**
 * Turns or pulses per distance at the end of a drive path.
 *
 *     output = (1/C) · Π rᵢ,  1/C the wheel's turns per distance, rᵢ the ratio of stage i
 *
 * @param wheelTurnsPerM - Turns of the wheel per meter, 1/C. [1/m]
 * @param stages - Stages in order from wheel to dial; none: the wheel itself
 * @returns Output of the path [1/m]; the `outputPerM` of `pathOutput`, without the shafts between
 * @throws {DomainError} `not-finite`
 * @see EU 165/2014, Annex I, and AETR Appendix 1: w = pulses per wheel turn · 10⁶ / C[mm]
 * @example outputPerMOf(exact(1 / 1.885), [{ kind: 'pulse-ring', name: 'ring', ratio: exact(8) }]).value * 1000 // 4244.03 ± 5e-3
 */
export function outputPerMOf(wheelTurnsPerM: Figure, stages: readonly Stage[]): Figure {
  const exactRatio = exactProduct(stages)
  if (exactRatio !== undefined) return product(wheelTurnsPerM, figureOfRatio(exactRatio))
  let perM = wheelTurnsPerM
  for (const { ratio } of stages) perM = product(perM, ratio)
  return perM
}

/**
 * Turns per distance along a drive path, and pulses per distance after a pulse ring.
 *
 *     output = (1/C) · Π rᵢ,  1/C the wheel's turns per distance, rᵢ the ratio of stage i
 *
 * @param wheelTurnsPerM - Turns of the wheel per meter, 1/C. [1/m]
 * @param stages - Stages in order from wheel to dial; none: the wheel itself
 * @returns Output of each stage and of the path [1/m], and the product of the stages
 * @throws {DomainError} `path-order`
 * @see EU 165/2014, Annex I, and AETR Appendix 1: w = pulses per wheel turn · 10⁶ / C[mm]
 * @example pathOutput(exact(1 / 1.885), [{ kind: 'pulse-ring', name: 'ring', ratio: exact(8) }]).outputPerM.value * 1000 // 4244.03 ± 5e-3
 */
export function pathOutput(wheelTurnsPerM: Figure, stages: readonly Stage[]): PathOutput {
  const signal = signalOf(stages.map(({ kind }) => kind))
  const shafts: Shaft[] = [{ after: 'wheel', turnsPerM: wheelTurnsPerM }]
  let perM = wheelTurnsPerM
  let isPulses = false
  for (const { kind, name, ratio } of stages) {
    if (kind === 'pulse-ring') isPulses = true
    perM = product(perM, ratio)
    shafts.push(isPulses ? { after: name, pulsesPerM: perM } : { after: name, turnsPerM: perM })
  }
  const exactRatio = exactProduct(stages)
  if (exactRatio === undefined) {
    const stagesRatio = stages.reduce((total, { ratio }) => product(total, ratio), exact(1))
    return { shafts, signal, outputPerM: perM, stagesRatio }
  }
  const stagesRatio = figureOfRatio(exactRatio)
  const outputPerM = product(wheelTurnsPerM, stagesRatio)
  return { shafts, signal, outputPerM, stagesRatio, stagesRatioExact: exactRatio }
}

/** Response of a path and its head to the true speed: a straight line. */
export interface Response {
  /** Slope: indicated ÷ true speed, including the head's own scale error. */
  readonly indicatedPerTrue: Figure
  /** Indicated speed at standstill [m/s]. */
  readonly offsetMPerS: Figure
  /** Odometer ÷ true distance: the head's speed errors do not affect the odometer. */
  readonly odometerPerTrue: Figure
}

/**
 * Response of a head to the output of its path.
 *
 *     odometer/true = output / constant      indicated/true = (output / constant) · scale      indicated = (indicated/true)·V + offset
 *
 * @param outputPerM - Turns or pulses per meter at the end of the path. [1/m]
 * @param head - The head
 * @returns Slopes and offset with their uncertainty
 * @throws {DomainError} `not-finite`
 * @see EU 165/2014, Annex I (indicated over true is w/k); TM 9-1829A (regulation of scale and low end, independent of the odometer)
 * @example response(exact(984.2), { input: 'turns', constantPerM: exact(1000), scale: exact(1), offsetMPerS: exact(0) }).indicatedPerTrue.value // 0.9842 ± 1e-12
 */
export function response(outputPerM: Figure, head: Head): Response {
  const odometerPerTrue = quotient(outputPerM, head.constantPerM)
  return {
    odometerPerTrue,
    indicatedPerTrue: product(odometerPerTrue, head.scale),
    offsetMPerS: head.offsetMPerS,
  }
}

/** Slope and offset of a dial. */
export type DialLine = Pick<Response, 'indicatedPerTrue' | 'offsetMPerS'>

/** Reading of a dial at one true speed. */
export interface Reading {
  readonly trueMPerS: number
  readonly indicatedMPerS: number
  /** Reading without the pointer stop at zero. */
  readonly unstoppedMPerS: number
  /** Slope of the dial: change of the reading with the true speed. */
  readonly perTrue: number
  /** Standard uncertainty of the true speed itself. */
  readonly uTrueMPerS: number
  /** Spread of the reading at exactly this true speed. */
  readonly spread: Spread
}

/**
 * The reading of a dial as a function of true speed.
 *
 *     y(V) = b·V + a, never below zero      at one true speed u² = Σᵢ (V·bᵢ + aᵢ)²
 *
 * b is the slope, a the offset.
 *
 * bᵢ and aᵢ are the contributions of input i to slope and offset, paired so that a shared input is not counted twice.
 *
 * @param line - Slope and offset
 * @returns A function of true speed [m/s] and the standard uncertainty of that speed [m/s]
 * @see JCGM 100:2008, 5.2.2 eq. (13), H.3
 * @example readingOf({ indicatedPerTrue: exact(1.1), offsetMPerS: exact(-1) })(10).indicatedMPerS // 10 ± 1e-12
 */
export function readingOf(line: DialLine): (trueMPerS: number, uTrueMPerS?: number) => Reading {
  const b = line.indicatedPerTrue
  const a = line.offsetMPerS
  // Pairs (bᵢ, aᵢ) are summed before squaring: expanded squares would lose digits by cancellation.
  const slopes: number[] = []
  const offsets: number[] = []
  const tolerances: Rectangle[] = []
  for (const { input, part, rectangle } of b.contributions) {
    if (rectangle === undefined) {
      slopes.push(part)
      offsets.push(contributionOf(a, input))
    } else tolerances.push(rectangle)
  }
  for (const { input, part } of a.contributions) {
    if (b.contributions.some((one) => one.input === input)) continue
    slopes.push(0)
    offsets.push(part)
  }
  return (trueMPerS, uTrueMPerS = 0) => {
    let variance = 0
    for (let i = 0; i < slopes.length; i++) variance += (trueMPerS * slopes[i]! + offsets[i]!) ** 2
    const unstoppedMPerS = b.value * trueMPerS + a.value
    return {
      trueMPerS,
      indicatedMPerS: Math.max(0, unstoppedMPerS),
      unstoppedMPerS,
      perTrue: b.value,
      uTrueMPerS,
      spread: spreadFrom(Math.sqrt(variance), scaledRectangles(tolerances, trueMPerS)),
    }
  }
}

/**
 * What a dial shows at a true speed, by its estimate.
 *
 *     y = b·V + a, never below zero
 *
 * @param line - Slope b and offset a
 * @param trueMPerS - V [m/s]
 * @returns y [m/s]
 * @see definition of the reading
 * @example indicatedMPerS({ indicatedPerTrue: exact(1.1), offsetMPerS: exact(-1) }, 10) // 10 ± 1e-12
 */
export function indicatedMPerS(line: DialLine, trueMPerS: number): number {
  return Math.max(0, line.indicatedPerTrue.value * trueMPerS + line.offsetMPerS.value)
}

/**
 * Spread of the difference between a reading and a quantity that depends on the uncertain true speed: the true speed itself, or a limit.
 *
 *     u² = u(y at V)² + ((b − s)·u_V)²
 *
 * b is the slope of the dial, s that of the other quantity, u_V the standard uncertainty of the true speed: y − s·V changes with V by b − s.
 *
 * @param reading - Reading of the dial
 * @param slope - s; 0 for the reading by itself, 1 for its error
 * @returns The spread of the difference
 * @see JCGM 100:2008, 5.2.2 eq. (13) (the reading and its limit depend on the same true speed)
 * @example halfWidth(spreadAgainst(readingOf({ indicatedPerTrue: uncertain(1.05, 'b', 0.001), offsetMPerS: exact(0) })(80, 3), 1)) // 0.34 ± 1e-12
 */
export function spreadAgainst(reading: Reading, slope: number): Spread {
  return widened(reading.spread, Math.abs(reading.perTrue - slope) * reading.uTrueMPerS)
}

/**
 * Guard band of a dial: how far the reading may lie below its estimate, up to a given probability.
 *
 *     g(V): P(y(V) < estimate − g) = Φ(−z)
 *
 * @param line - Slope and offset
 * @param z - Standard score that stands for the probability. [> 0]
 * @param factor - Factor of the slope, its relative uncertainty unchanged; default: 1
 * @returns A function from true speed [m/s] to g [m/s]
 * @see JCGM 106:2012, 8.3.2 (guard band)
 * @example guardOf({ indicatedPerTrue: uncertain(1, 'b', 0.01), offsetMPerS: exact(0) }, 1.5)(20) // 0.3 ± 1e-12
 */
export function guardOf(line: DialLine, z: number, factor = 1): (trueMPerS: number) => number {
  if (line.offsetMPerS.contributions.length === 0) {
    // Without uncertainty of the offset it is proportional to the speed, so one search serves all speeds.
    const perTrue = reachBelow(spreadOf(line.indicatedPerTrue, factor), z)
    return (trueMPerS) => trueMPerS * perTrue
  }
  const { indicatedPerTrue, offsetMPerS } = line
  const reading = readingOf(
    factor === 1 ? line : { indicatedPerTrue: scaled(indicatedPerTrue, factor), offsetMPerS },
  )
  return (trueMPerS) => reachBelow(reading(trueMPerS).spread, z)
}

/**
 * Error of the odometer, from odometer ÷ true distance.
 *
 *     e = 100 · (odometer/true − 1)   [%]
 *
 * @param odometerPerTrue - Odometer distance over true distance
 * @returns e, with its uncertainty. [%]
 * @throws {DomainError} `not-finite`
 * @see AETR, Appendix 1, III.F (error of distance as percent of the real distance)
 * @example odometerErrorPercent(exact(1.06101)).value // 6.101 ± 1e-9
 */
export function odometerErrorPercent(odometerPerTrue: Figure): Figure {
  return product(sum(odometerPerTrue, exact(-1)), exact(100))
}
