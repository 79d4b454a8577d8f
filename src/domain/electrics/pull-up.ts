import { DomainError } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { type ConformityResult, conformityProbability, conformityResult } from '../measure/conformity.js'
import { digits } from '../measure/digits.js'
import {
  type BudgetLine,
  budget,
  exact,
  type Figure,
  product,
  quotient,
  scaled,
  standardUncertainty,
  sum,
  uncertain,
} from '../measure/figure.js'
import type { Note } from '../measure/notes.js'
import type { SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
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
const MODES = Object.keys(BUS_MODES) as BusMode[]

/** Default tolerance of a resistor: common practice, no source. [%] */
const DEFAULT_TOLERANCE_PERCENT = 1

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

export interface ModeRow extends ResistanceRange {
  readonly mode: BusMode
  readonly clockHz: number
  /** Maximum of the mode; for the requested mode, the given value if there is one. */
  readonly riseTimeS: number
  /** Maximum lead length with a non-empty range; absent for a bus given by its capacitance, or if no lead is short enough. */
  readonly longestLeadM?: Figure
}

export type PullUpRemedyKind =
  | 'shorten-lead'
  | 'less-capacitance'
  | 'slower-mode'
  | 'stronger-driver'
  | 'lower-supply'
  | 'separate-segments'

/**
 * A change of the bus after which a standard resistor is proven to keep both limits. Only the fields of its kind are set: a
 * request with these values instead of its own finds that resistor.
 */
export interface PullUpRemedy {
  readonly kind: PullUpRemedyKind
  readonly text: string
  readonly leadM?: number
  readonly shortenByM?: Figure
  readonly capacitanceF?: number
  readonly mode?: BusMode
  readonly sinkCurrentA?: number
  readonly supplyV?: number
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

export interface PullUp extends ResistanceRange {
  readonly busCapacitanceF: Figure
  readonly capacitanceLimitF: number
  readonly modes: readonly ModeRow[]
  readonly recommended?: PullUpChoice
  readonly fitted?: PullUpChoice
  readonly remedies: readonly PullUpRemedy[]
  /** Of the largest pull-up. */
  readonly budget: readonly BudgetLine[]
  readonly assumptions: readonly Assumption[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
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
const largestCapacitanceF = (riseTimeS: Figure, minOhm: Figure) =>
  scaled(quotient(riseTimeS, minOhm), 1 / RISE_TIME_CONSTANTS)

interface Load {
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
interface Bus {
  readonly supplyV: Figure
  readonly lowLevelV: Figure
  readonly sinkCurrentA: Figure
  readonly riseTimeS: Figure
  readonly load: Load
  readonly capacitanceLimitF: number
}

/** Supply up to which the low level is a fifth of the supply and outputs are weaker (UM10204, from memory). [V] */
const LOW_SUPPLY_V = 2
const LOW_SUPPLY_SINK_A = 2e-3

const sinkOfModeA = (mode: BusMode, supplyV: number) =>
  supplyV > LOW_SUPPLY_V || mode === 'fast-plus' ? BUS_MODES[mode].sinkA : LOW_SUPPLY_SINK_A

/** A request that names its mode. */
type Known = PullUpRequest & { readonly mode: BusMode }

function busOf(request: Known, taken: Assumption[], sources: SourceId[]): Bus {
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

function rangeOf({ supplyV, lowLevelV, sinkCurrentA, riseTimeS, load }: Bus): ResistanceRange {
  const minOhm = smallestPullUpOhm(supplyV, lowLevelV, sinkCurrentA)
  const maxOhm = largestPullUpOhm(riseTimeS, load.totalF)
  return { minOhm, maxOhm, feasible: minOhm.value <= maxOhm.value }
}

function choiceOf(resistanceOhm: Figure, bus: Bus): PullUpChoice {
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

/**
 * Pull-up of a two-wire bus: the range of resistances, the best standard value, and remedies if there is none.
 *
 *     Rmin = (V_DD − V_OL)/I_OL ≤ R ≤ Rmax = tᵣ/(ln(7/3)·C_b),  C_b = L·c′ + n·C_i
 *     maximum lead = (tᵣ/(ln(7/3)·Rmin) − n·C_i)/c′
 *
 * V_DD is the supply, V_OL the low level that a device must reach and I_OL its sink current at that level, tᵣ the
 * maximum rise time, L the length of the lead and c′ its capacitance per length, C_i that of one device, n their
 * number.
 *
 * The recommended resistor is the preferred value nearest the geometric mean of the range among those proven to keep both
 * limits; if none is proven, the one with the highest probability. Its tolerance enters as a uniform distribution.
 *
 * If there is no range, each remedy is the smallest change, in round steps (1 cm, 1 pF, 0.1 mA, 0.1 V), after which such a resistor is
 * proven and the load is within the limit of the mode; the changed bus is recomputed with the uncertainties of the request. A change
 * that cannot achieve this is not listed.
 *
 * @param given - Supply [V], mode (left out: fast), load of the bus [F, m, F/m]; levels and currents if they differ from those of the mode
 * @returns Range, range of each mode, a resistor, and remedies, smallest change first
 * @throws {DomainError} `limits-crossed` if the supply does not exceed the low level
 * @see UM10204, 7.1 (formulas published; limits of the modes from memory)
 * @example pullUp({ supplyV: exact(5), mode: 'fast', bus: { capacitanceF: exact(200e-12) } }).recommended.resistanceOhm.value // 1600 ± 0
 * @example pullUp({ supplyV: exact(5), mode: 'fast', bus: { capacitanceF: exact(400e-12) } }).feasible // false
 */
export function pullUp(given: PullUpRequest): PullUp {
  const request: Known = { ...given, mode: given.mode ?? 'fast' }
  const taken: Assumption[] = []
  const sources: SourceId[] = ['two-wire-bus', 'gum']
  const notes: Note[] = []
  const bus = busOf(request, taken, sources)
  const { supplyV, sinkCurrentA, riseTimeS, load } = bus
  const capacitanceF = load.totalF
  const range = rangeOf(bus)
  const sinkA = sinkOfModeA(request.mode, supplyV.value)

  const modes = MODES.map((mode): ModeRow => {
    const row = BUS_MODES[mode]
    // An output has the same strength in any mode; only a mode that requires more than the requested one needs another output.
    const askedA = sinkOfModeA(mode, supplyV.value)
    const current = askedA > sinkA && askedA > sinkCurrentA.value ? exact(askedA) : sinkCurrentA
    const modeRiseTimeS = mode === request.mode ? riseTimeS : exact(row.riseTimeS)
    const modeRange = rangeOf({ ...bus, sinkCurrentA: current, riseTimeS: modeRiseTimeS })
    const out: Mutable<ModeRow> = {
      mode,
      clockHz: row.clockHz,
      riseTimeS: modeRiseTimeS.value,
      ...modeRange,
    }
    const longestM = longestLeadM(load, modeRiseTimeS, modeRange.minOhm)
    if (longestM !== undefined) out.longestLeadM = longestM
    return out
  })

  const result: Mutable<PullUp> = {
    ...range,
    busCapacitanceF: capacitanceF,
    capacitanceLimitF: bus.capacitanceLimitF,
    modes,
    remedies: range.feasible ? [] : remediesFor(request, bus),
    budget: budget(range.maxOhm),
    assumptions: taken,
    sources,
    notes,
  }
  if (range.feasible) {
    const tolerancePercent = assumed(
      request.tolerancePercent,
      DEFAULT_TOLERANCE_PERCENT,
      { field: '/tolerancePercent', value: '1 %', standing: 'common-practice' },
      taken,
    )
    const best = bestChoice(bus, tolerancePercent)
    if (best === undefined) {
      notes.push({
        code: 'no-preferred-value',
        level: 'info',
        text: 'The range is narrower than a step of the E24 series: put two resistors in parallel or in series.',
      })
    } else {
      result.recommended = best
      sources.push('iec-60063')
      if (best.result !== 'conforms') {
        notes.push({
          code: 'pull-up-not-proven',
          level: 'caution',
          text: 'There is a range, but within the uncertainty not even the best resistor is proven to keep both limits: measure the rise time from 30 to 70 % with an oscilloscope, or shorten the lead.',
        })
      }
    }
  }
  if (request.fittedOhm !== undefined) result.fitted = choiceOf(request.fittedOhm, bus)
  if (exceeds(capacitanceF, bus.capacitanceLimitF)) {
    notes.push({
      code: 'bus-capacitance-above-limit',
      level: 'caution',
      text: `The bus loads its outputs with ${Math.round(capacitanceF.value * 1e12)} pF; the mode allows ${Math.round(bus.capacitanceLimitF * 1e12)} pF. Even a calculated pull-up may fail; shorten the lead or use a bus buffer.`,
    })
  }
  if (load.lead !== undefined && load.lead.lengthM.value > 1) {
    notes.push({
      code: 'long-bus-lead',
      level: 'caution',
      text: 'This bus is meant for leads inside one housing. Routed through a car it picks up ignition noise: twist each line with ground, keep it away from the ignition leads, or send pulses over a differential pair instead.',
    })
  }
  return result
}

function longestLeadM(load: Load, riseTimeS: Figure, minOhm: Figure): Figure | undefined {
  if (load.lead === undefined) return undefined
  const leadF = sum(largestCapacitanceF(riseTimeS, minOhm), scaled(load.lead.inputsF, -1))
  return leadF.value > 0 ? quotient(leadF, load.lead.perLengthFPerM) : undefined
}

/** Above a limit by more than rounding. */
const exceeds = (figure: Figure, limit: number) => figure.value > limit * (1 + 1e-9)

function bestChoice(bus: Bus, tolerancePercent: number): PullUpChoice | undefined {
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

/** The resistor [ohm] with which a changed bus is proven to work, if there is one. */
function provenOhm(request: Known): number | undefined {
  if (request.lowLevelV !== undefined && request.supplyV.value <= request.lowLevelV.value) return undefined
  const bus = busOf(request, [], [])
  if (exceeds(bus.load.totalF, bus.capacitanceLimitF)) return undefined
  const best = bestChoice(bus, request.tolerancePercent ?? DEFAULT_TOLERANCE_PERCENT)
  return best?.result === 'conforms' ? best.resistanceOhm.value : undefined
}

/** A quantity with a new value and its previous uncertainty. */
const setTo = (value: number, { contributions }: Figure): Figure => ({ value, contributions })

/** First of this many steps that holds, if every later one holds as well. */
function firstThatHolds(steps: number, holds: (step: number) => boolean): number | undefined {
  if (steps < 1 || !holds(steps - 1)) return undefined
  let low = 0
  let high = steps - 1
  while (low < high) {
    const middle = Math.floor((low + high) / 2)
    if (holds(middle)) high = middle
    else low = middle + 1
  }
  return high
}

/** Strongest output of any mode (UM10204, from memory), and the minimum supply of common logic (common practice, no source). */
const STRONGEST_SINK_A = BUS_MODES['fast-plus'].sinkA
const LOWEST_SUPPLY_V = 1.2

function remediesFor(request: Known, bus: Bus): PullUpRemedy[] {
  return [
    lessLoad(request, bus),
    slowerMode(request, bus),
    strongerDriver(request, bus),
    lowerSupply(request, bus),
    {
      kind: 'separate-segments' as const,
      text: 'Split the bus with a buffer so that the lead is a separate segment, or send the signal over a differential pair.',
    },
  ].filter((remedy) => remedy !== undefined)
}

const withResistor = (ohm: number | undefined) => `a pull-up of ${digits(ohm!)} ohm then keeps both limits`

function lessLoad(request: Known, { load }: Bus): PullUpRemedy | undefined {
  const given = request.bus
  if ('lengthM' in given) {
    const at = (cm: number) =>
      provenOhm({ ...request, bus: { ...given, lengthM: setTo(cm / 100, given.lengthM) } })
    const longestCm = Math.ceil(given.lengthM.value * 100) - 1
    const off = firstThatHolds(longestCm, (step) => at(longestCm - step) !== undefined)
    if (off !== undefined) {
      const cm = longestCm - off
      const shortenByM = sum(given.lengthM, exact(-cm / 100))
      const byCm = Math.ceil(shortenByM.value * 100 - 1e-6)
      return {
        kind: 'shorten-lead',
        text: `Shorten the lead to at most ${(cm / 100).toFixed(2)} m, by ${(byCm / 100).toFixed(2)} m: ${withResistor(at(cm))}.`,
        leadM: cm / 100,
        shortenByM,
      }
    }
  }
  const farads = (pf: number) => Number(`${pf}e-12`)
  const at = (pf: number) => provenOhm({ ...request, bus: { capacitanceF: setTo(farads(pf), load.totalF) } })
  const maxPf = Math.ceil(load.totalF.value * 1e12) - 1
  const off = firstThatHolds(maxPf, (step) => at(maxPf - step) !== undefined)
  if (off === undefined) return undefined
  const pf = maxPf - off
  return {
    kind: 'less-capacitance',
    text: `Reduce the whole bus to at most ${pf} pF (shorter lead, fewer inputs, no clamp diodes of high capacitance): ${withResistor(at(pf))}.`,
    capacitanceF: farads(pf),
  }
}

function slowerMode(request: Known, { supplyV, sinkCurrentA }: Bus): PullUpRemedy | undefined {
  const { riseTimeS: _, ...rest } = request
  for (const mode of MODES.slice(0, MODES.indexOf(request.mode)).reverse()) {
    // The present outputs sink the same current in any mode.
    const ohm = provenOhm({ ...rest, mode, sinkCurrentA })
    if (ohm === undefined) continue
    const remedy: Mutable<PullUpRemedy> = {
      kind: 'slower-mode',
      text: `Clock the bus in ${mode} mode (${BUS_MODES[mode].clockHz / 1000} kHz), with outputs that sink ${digits(sinkCurrentA.value * 1000)} mA as at present: ${withResistor(ohm)}.`,
      mode,
    }
    if (request.sinkCurrentA === undefined && sinkCurrentA.value !== sinkOfModeA(mode, supplyV.value))
      remedy.sinkCurrentA = sinkCurrentA.value
    return remedy
  }
  return undefined
}

function strongerDriver(request: Known, { sinkCurrentA }: Bus): PullUpRemedy | undefined {
  const ampere = (step: number) => Number(`${step}e-4`)
  const at = (step: number) => provenOhm({ ...request, sinkCurrentA: setTo(ampere(step), sinkCurrentA) })
  const next = Math.floor(sinkCurrentA.value * 1e4) + 1
  const more = firstThatHolds(
    Math.round(STRONGEST_SINK_A * 1e4) - next + 1,
    (tried) => at(next + tried) !== undefined,
  )
  if (more === undefined) return undefined
  const step = next + more
  return {
    kind: 'stronger-driver',
    text: `Use outputs that sink ${digits(step / 10)} mA or more at the low level on every device of the bus: ${withResistor(at(step))}.`,
    sinkCurrentA: ampere(step),
  }
}

function lowerSupply(request: Known, bus: Bus): PullUpRemedy | undefined {
  const at = (step: number) => provenOhm({ ...request, supplyV: setTo(step / 10, request.supplyV) })
  const openV = bus.lowLevelV.value + bus.sinkCurrentA.value * rangeOf(bus).maxOhm.value
  const highest = Math.min(
    Math.ceil(request.supplyV.value * 10) - 1,
    Math.floor(Math.max(LOW_SUPPLY_V, openV) * 10),
  )
  // Step by step: other levels apply up to 2 V, so a supply below 2 V may fail although one above works.
  for (let step = highest; step >= LOWEST_SUPPLY_V * 10; step--) {
    const ohm = at(step)
    if (ohm === undefined) continue
    const bound =
      step > LOW_SUPPLY_V * 10 && at(LOW_SUPPLY_V * 10) === undefined
        ? ' At 2 V and below, outputs are weaker, and a lower supply may not work.'
        : ''
    return {
      kind: 'lower-supply',
      text: `Pull up to ${digits(step / 10)} V, if every input on the bus still reads that as high (0.7 of its own supply): ${withResistor(ohm)}.${bound}`,
      supplyV: step / 10,
    }
  }
  return undefined
}
