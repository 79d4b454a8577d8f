import { DomainError } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { type ConformityResult, conformityProbability, conformityResult } from '../measure/conformity.js'
import { digits } from '../measure/digits.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { product, quotient, scaled, sum } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import { standardUncertainty } from '../measure/uncertainty.js'
import { preferredBetween } from './preferred-values.js'

/** ln(7/3): time constants from 30 % to 70 % of the supply, rounded to 0.8473 in UM10204. */
const RISE_TIME_CONSTANTS = Math.log(7 / 3)

/**
 * Limits of the bus modes (UM10204, from memory).
 *
 * | mode | clock | maximum rise time | bus capacitance | sink current at 0.4 V |
 * |---|---|---|---|---|
 * | standard | 100 kHz | 1000 ns | 400 pF | 3 mA |
 * | fast | 400 kHz | 300 ns | 400 pF | 3 mA |
 * | fast-plus | 1 MHz | 120 ns | 550 pF | 20 mA |
 */
export const BUS_MODES = {
  standard: { clockHz: 100e3, riseTimeS: 1000e-9, capacitanceF: 400e-12, sinkA: 3e-3 },
  fast: { clockHz: 400e3, riseTimeS: 300e-9, capacitanceF: 400e-12, sinkA: 3e-3 },
  'fast-plus': { clockHz: 1e6, riseTimeS: 120e-9, capacitanceF: 550e-12, sinkA: 20e-3 },
} as const

export type BusMode = keyof typeof BUS_MODES
export const MODES = Object.keys(BUS_MODES) as BusMode[]

/** Default tolerance of a resistor: common practice, no source. [%] */
export const DEFAULT_TOLERANCE_PERCENT = 1

/** Load of the bus: a measured capacitance, or a lead and the inputs on it. */
export type BusLoad =
  | { readonly capacitanceF: Figure }
  | {
      readonly lengthM: Figure
      readonly capacitancePerLengthFPerM?: Figure
      readonly devices?: number
      readonly capacitancePerDeviceF?: Figure
    }

export interface PullUpRequest {
  readonly supplyV: Figure
  /** Left out: fast. */
  readonly mode?: BusMode
  readonly bus: BusLoad
  readonly lowLevelV?: Figure
  readonly sinkCurrentA?: Figure
  /** Replaces the maximum rise time of the mode. */
  readonly riseTimeS?: Figure
  /** Tolerance of the recommended resistor [%]. */
  readonly tolerancePercent?: number
  /** Resistance of the fitted pull-ups, both ends in parallel. */
  readonly fittedOhm?: Figure
}

export interface ResistanceRange {
  readonly minOhm: Figure
  readonly maxOhm: Figure
  readonly feasible: boolean
}

/** A resistor on this bus. */
export interface PullUpChoice {
  readonly resistanceOhm: Figure
  readonly riseTimeS: Figure
  readonly lowCurrentA: Figure
  readonly powerW: Figure
  /** Probability that both limits are kept, and the verdict. */
  readonly probability: number
  readonly result: ConformityResult
}

/**
 * Largest pull-up that meets the rise time of the bus.
 *
 *     Rmax = tᵣ / (ln(7/3) · C_b)
 *
 * @param riseTimeS - tᵣ from 30 to 70 % of the supply. [s]
 * @param capacitanceF - C_b, total capacitance of the bus. [F]
 * @returns Rmax. [ohm]
 * @throws {DomainError} `not-finite` for zero capacitance
 * @see UM10204, 7.1 eq. (1)
 * @example largestPullUpOhm(exact(300e-9), exact(200e-12)).value // 1770.33 ± 0.005
 */
export function largestPullUpOhm(riseTimeS: Figure, capacitanceF: Figure): Figure {
  return scaled(quotient(riseTimeS, capacitanceF), 1 / RISE_TIME_CONSTANTS)
}

/**
 * Smallest pull-up that the weakest output can pull low.
 *
 *     Rmin = (V_DD − V_OL) / I_OL
 *
 * @param supplyV - V_DD. [V]
 * @param lowLevelV - V_OL, maximum low level. [V]
 * @param sinkCurrentA - I_OL, sink current of the output at that level. [A]
 * @returns Rmin. [ohm]
 * @throws {DomainError} `not-finite` for zero current
 * @see UM10204, 7.1 eq. (2)
 * @example smallestPullUpOhm(exact(5), exact(0.4), exact(0.003)).value // 1533.33 ± 0.005
 */
export function smallestPullUpOhm(supplyV: Figure, lowLevelV: Figure, sinkCurrentA: Figure): Figure {
  return quotient(sum(supplyV, scaled(lowLevelV, -1)), sinkCurrentA)
}

/** Capacitance at which Rmax for a rise time equals Rmin. */
export const largestCapacitanceF = (riseTimeS: Figure, minOhm: Figure) =>
  scaled(quotient(riseTimeS, minOhm), 1 / RISE_TIME_CONSTANTS)

export interface Load {
  readonly totalF: Figure
  readonly lead?: { readonly lengthM: Figure; readonly perLengthFPerM: Figure; readonly inputsF: Figure }
}

function loadOf(bus: BusLoad, taken: Assumption[], sources: SourceId[]): Load {
  if ('capacitanceF' in bus) {
    sources.push('caller-reading')
    return { totalF: bus.capacitanceF }
  }
  const perLengthFPerM = assumed(
    bus.capacitancePerLengthFPerM,
    uncertain(100e-12, 'bus: capacitance of the lead per length', 50e-12 / Math.sqrt(3)),
    { field: '/bus/capacitancePerLength', value: '100 pF/m, from 50 to 150', standing: 'common-practice' },
    taken,
  )
  if (bus.capacitancePerLengthFPerM === undefined) sources.push('lead-capacitance')
  const devices = assumed(
    bus.devices,
    2,
    { field: '/bus/devices', value: '2, one at each end', standing: 'common-practice' },
    taken,
  )
  const perDeviceF = assumed(
    bus.capacitancePerDeviceF,
    exact(10e-12),
    {
      field: '/bus/capacitancePerDevice',
      value: '10 pF, the maximum of an input',
      standing: 'from-memory',
    },
    taken,
  )
  const inputsF = scaled(perDeviceF, devices)
  return {
    totalF: sum(product(bus.lengthM, perLengthFPerM), inputsF),
    lead: { lengthM: bus.lengthM, perLengthFPerM, inputsF },
  }
}

/** A bus with all its levels and limits. */
export interface Bus {
  readonly supplyV: Figure
  readonly lowLevelV: Figure
  readonly sinkCurrentA: Figure
  readonly riseTimeS: Figure
  readonly load: Load
  readonly capacitanceLimitF: number
}

/** Supply up to which the low level is a fifth of the supply and outputs are weaker (UM10204, from memory). [V] */
export const LOW_SUPPLY_V = 2
const LOW_SUPPLY_SINK_A = 2e-3

/** Current that an output of the mode sinks at least. [A] */
export const sinkOfModeA = (mode: BusMode, supplyV: number) =>
  supplyV > LOW_SUPPLY_V || mode === 'fast-plus' ? BUS_MODES[mode].sinkA : LOW_SUPPLY_SINK_A

/** A request that names its mode. */
export type Known = PullUpRequest & { readonly mode: BusMode }

/**
 * A bus with the levels and limits of its mode, where the request gives no others.
 *
 *     V_OL = 0.4 V, or 0.2·V_DD up to 2 V;  C_b = c·l + n·C_i, or as measured
 *
 * V_OL is the maximum low level, V_DD the supply; C_b is the capacitance of the bus, c that of the lead per length, l its length, n the number of
 * inputs and C_i the capacitance of each.
 *
 * @param request - Supply [V], mode, load of the bus [F, m, F/m], levels and currents if they differ from those of the mode
 * @param taken - Assumptions of the answer; gets those that are made
 * @param sources - Sources of the answer
 * @returns The bus
 * @throws {DomainError} `limits-crossed` if the supply does not exceed the low level
 * @see UM10204, 7.1 (formulas published; limits of the modes from memory)
 * @example busOf({ supplyV: exact(5), mode: 'fast', bus: { lengthM: exact(1) } }, [], []).load.totalF.value // 1.2e-10 ± 1e-16
 */
export function busOf(request: Known, taken: Assumption[], sources: SourceId[]): Bus {
  const limits = BUS_MODES[request.mode]
  const { supplyV } = request
  const isLow = supplyV.value <= LOW_SUPPLY_V
  const lowLevelV = assumed(
    request.lowLevelV,
    isLow ? scaled(supplyV, 0.2) : exact(0.4),
    {
      field: '/lowLevel',
      value: isLow ? `${digits(0.2 * supplyV.value)} V, a fifth of the supply` : '0.4 V',
      standing: 'from-memory',
    },
    taken,
  )
  const sinkA = sinkOfModeA(request.mode, supplyV.value)
  const sinkCurrentA = assumed(
    request.sinkCurrentA,
    exact(sinkA),
    { field: '/sinkCurrent', value: `${sinkA * 1000} mA, of the mode`, standing: 'from-memory' },
    taken,
  )
  const riseTimeS = assumed(
    request.riseTimeS,
    exact(limits.riseTimeS),
    {
      field: '/riseTime',
      value: `${Math.round(limits.riseTimeS * 1e9)} ns, of the mode`,
      standing: 'from-memory',
    },
    taken,
  )
  if (taken.some(({ standing }) => standing === 'from-memory')) sources.push('two-wire-bus-limits')
  if (supplyV.value <= lowLevelV.value) {
    throw new DomainError(
      'limits-crossed',
      `supply: expected more than the low level of ${digits(lowLevelV.value)} V, got ${digits(supplyV.value)} V`,
      { pointer: '/supply', min: lowLevelV.value, value: supplyV.value },
    )
  }
  const load = loadOf(request.bus, taken, sources)
  return { supplyV, lowLevelV, sinkCurrentA, riseTimeS, load, capacitanceLimitF: limits.capacitanceF }
}

/**
 * Range of the pull-up of a bus.
 *
 *     Rmin = (V_DD − V_OL)/I_OL;  Rmax = tᵣ/(ln(7/3)·C_b)
 *
 * V_DD is the supply, V_OL the maximum low level, I_OL the sink current of an output at that level; tᵣ is the rise time, C_b the capacitance of the
 * bus.
 *
 * @param bus - Bus with its levels [V, A, s] and its load [F]
 * @returns Both limits [ohm], and whether they leave any resistance
 * @throws {DomainError} `not-finite`
 * @see UM10204, 7.1 eq. (1), (2)
 * @example rangeOf(busOf({ supplyV: exact(5), mode: 'fast', bus: { capacitanceF: exact(200e-12) } }, [], [])).minOhm.value // 1533.33 ± 0.005
 */
export function rangeOf(bus: Bus): ResistanceRange {
  const minOhm = smallestPullUpOhm(bus.supplyV, bus.lowLevelV, bus.sinkCurrentA)
  const maxOhm = largestPullUpOhm(bus.riseTimeS, bus.load.totalF)
  return { minOhm, maxOhm, feasible: minOhm.value <= maxOhm.value }
}

/**
 * A resistor on a bus, and whether it keeps both limits.
 *
 *     tᵣ = ln(7/3)·R·C_b,  I = (V_DD − V_OL)/R;  P = max(0, P(tᵣ within its limit) + P(I within its limit) − 1)
 *
 * R is the resistor, I the current through it, P a probability; the other symbols as for `rangeOf`.
 *
 * @param resistanceOhm - R, both ends in parallel. [ohm]
 * @param bus - Bus with its levels [V, A, s] and its load [F]
 * @returns Rise time [s], current [A] and power [W] at the low level, probability and verdict
 * @throws {DomainError} `not-finite`
 * @see UM10204, 7.1; Bonferroni's inequality
 * @example choiceOf(exact(1600), busOf({ supplyV: exact(5), mode: 'fast', bus: { capacitanceF: exact(200e-12) } }, [], [])).result // "conforms"
 */
export function choiceOf(resistanceOhm: Figure, bus: Bus): PullUpChoice {
  const riseTimeS = scaled(product(resistanceOhm, bus.load.totalF), RISE_TIME_CONSTANTS)
  const dropV = sum(bus.supplyV, scaled(bus.lowLevelV, -1))
  const lowCurrentA = quotient(dropV, resistanceOhm)
  // Margins are differences of quantities that may share inputs, so each has its own uncertainty; both must hold.
  const holds = (margin: Figure) =>
    conformityProbability(margin.value, standardUncertainty(margin), 0, Number.POSITIVE_INFINITY)
  const rises = holds(sum(bus.riseTimeS, scaled(riseTimeS, -1)))
  const sinks = holds(sum(bus.sinkCurrentA, scaled(lowCurrentA, -1)))
  // Bonferroni: the two margins may be correlated, so the product could be too high.
  const probability = Math.max(0, rises + sinks - 1)
  return {
    resistanceOhm,
    riseTimeS,
    lowCurrentA,
    powerW: product(dropV, lowCurrentA),
    probability,
    result: conformityResult(probability),
  }
}

/** Above a limit by more than rounding. */
export const exceeds = (figure: Figure, limit: number) => figure.value > limit * (1 + 1e-9)

/**
 * The standard resistor for a bus: the one in the middle of those that are proven to keep both limits, else the likeliest.
 *
 *     minimum |ln(R/√(Rmin·Rmax))| over E24
 *
 * R is the resistor; Rmin and Rmax as for `rangeOf`.
 *
 * @param bus - Bus with its levels [V, A, s] and its load [F]
 * @param tolerancePercent - Tolerance of the resistor. [%]
 * @returns The resistor, or undefined if the range holds no value of the series
 * @see IEC 60063 (E24)
 * @example bestChoice(busOf({ supplyV: exact(5), mode: 'fast', bus: { capacitanceF: exact(200e-12) } }, [], []), 1).resistanceOhm.value // 1600 ± 0
 */
export function bestChoice(bus: Bus, tolerancePercent: number): PullUpChoice | undefined {
  const { minOhm, maxOhm } = rangeOf(bus)
  const middle = Math.sqrt(minOhm.value * maxOhm.value)
  const off = ({ resistanceOhm }: PullUpChoice) => Math.abs(Math.log(resistanceOhm.value / middle))
  const choices = preferredBetween('E24', minOhm.value, maxOhm.value).map((ohm) =>
    choiceOf(uncertain(ohm, 'pull-up: resistor', (ohm * tolerancePercent) / 100 / Math.sqrt(3)), bus),
  )
  const proven = choices.filter(({ result }) => result === 'conforms')
  const worth = (choice: PullUpChoice) => (proven.length > 0 ? -off(choice) : choice.probability)
  return (proven.length > 0 ? proven : choices).reduce<PullUpChoice | undefined>(
    (best, one) => (best === undefined || worth(one) > worth(best) ? one : best),
    undefined,
  )
}
