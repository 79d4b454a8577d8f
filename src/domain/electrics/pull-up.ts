import { DomainError } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { type ConformityResult, conformityProbability, conformityResult } from '../measure/conformity.js'
import { digits } from '../measure/digits.js'
import {
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

/** ln(7/3): time constants from 30 % to 70 % of the supply, printed as 0.8473 in UM10204. */
const RISE_TIME_CONSTANTS = Math.log(7 / 3)

/**
 * Limits of the bus modes (UM10204, from memory).
 *
 * | mode | clock | longest rise | bus capacitance | sink current at 0.4 V |
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

/** What loads the bus: a measured capacitance, or a lead and the inputs on it. */
export type BusLoad =
  | { readonly by: 'capacitance'; readonly capacitanceF: Figure }
  | {
      readonly by: 'lead'
      readonly lengthM: Figure
      readonly capacitancePerLengthFPerM?: Figure
      readonly devices?: number
      readonly capacitancePerDeviceF?: Figure
    }

export interface PullUpRequest {
  readonly supplyV: Figure
  readonly mode: BusMode
  readonly bus: BusLoad
  readonly lowLevelV?: Figure
  readonly sinkCurrentA?: Figure
  /** In place of the longest rise time of the mode. */
  readonly riseTimeS?: Figure
  /** Tolerance of the resistor that is recommended [%]. */
  readonly tolerancePercent?: number
  /** Resistance of what is fitted, both ends in parallel. */
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
  /** Longest of the mode; in the mode asked for the one given. */
  readonly riseTimeS: number
  /** Longest lead that leaves a range; absent when the bus was given by its capacitance, or no lead at all is short enough. */
  readonly longestLeadM?: Figure
}

export type PullUpRemedyKind =
  | 'shorten-lead'
  | 'less-capacitance'
  | 'slower-mode'
  | 'stronger-driver'
  | 'lower-supply'
  | 'separate-segments'

/** A way to make a range where there is none. Only the figure that belongs to the kind is there. */
export interface PullUpRemedy {
  readonly kind: PullUpRemedyKind
  readonly text: string
  readonly leadM?: Figure
  readonly shortenByM?: Figure
  readonly capacitanceF?: Figure
  readonly mode?: BusMode
  readonly sinkCurrentA?: Figure
  readonly supplyV?: Figure
}

/** One resistor on this bus. */
export interface PullUpChoice {
  readonly resistanceOhm: Figure
  readonly riseTimeS: Figure
  readonly lowCurrentA: Figure
  readonly powerW: Figure
  /** Probability that both limits are kept, and what it proves. */
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
  readonly assumptions: readonly Assumption[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/**
 * Largest pull-up that still lets the bus rise in time.
 *
 *     Rmax = tᵣ / (ln(7/3) · C_b)
 *
 * @param riseTimeS - tᵣ from 30 to 70 % of the supply. [s]
 * @param capacitanceF - C_b, all of the bus. [F]
 * @returns Rmax. [ohm]
 * @throws {DomainError} `not-finite` for no capacitance
 * @see UM10204, 7.1 eq. (1)
 * @example largestPullUpOhm(exact(300e-9), exact(200e-12)).value // 1770.33 ± 0.005
 */
export function largestPullUpOhm(riseTimeS: Figure, capacitanceF: Figure): Figure {
  return scaled(quotient(riseTimeS, capacitanceF), 1 / RISE_TIME_CONSTANTS)
}

/**
 * Smallest pull-up that the weakest output can still pull low.
 *
 *     Rmin = (V_DD − V_OL) / I_OL
 *
 * @param supplyV - V_DD. [V]
 * @param lowLevelV - V_OL, low level to be reached. [V]
 * @param sinkCurrentA - I_OL, current that the output sinks at that level. [A]
 * @returns Rmin. [ohm]
 * @throws {DomainError} `not-finite` for no current
 * @see UM10204, 7.1 eq. (2)
 * @example smallestPullUpOhm(exact(5), exact(0.4), exact(0.003)).value // 1533.33 ± 0.005
 */
export function smallestPullUpOhm(supplyV: Figure, lowLevelV: Figure, sinkCurrentA: Figure): Figure {
  return quotient(sum(supplyV, scaled(lowLevelV, -1)), sinkCurrentA)
}

/** Capacitance at which a rise time leaves just one resistance, Rmin. */
const largestCapacitanceF = (riseTimeS: Figure, minOhm: Figure) =>
  scaled(quotient(riseTimeS, minOhm), 1 / RISE_TIME_CONSTANTS)

interface Load {
  readonly totalF: Figure
  readonly lead?: { readonly lengthM: Figure; readonly perLengthFPerM: Figure; readonly inputsF: Figure }
}

function loadOf(bus: BusLoad, taken: Assumption[], sources: SourceId[]): Load {
  if (bus.by === 'capacitance') {
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
      value: '10 pF, the most an input may have',
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

function choiceOf(
  resistanceOhm: Figure,
  range: {
    riseTimeS: Figure
    capacitanceF: Figure
    supplyV: Figure
    lowLevelV: Figure
    sinkCurrentA: Figure
  },
): PullUpChoice {
  const riseTimeS = scaled(product(resistanceOhm, range.capacitanceF), RISE_TIME_CONSTANTS)
  const dropV = sum(range.supplyV, scaled(range.lowLevelV, -1))
  const lowCurrentA = quotient(dropV, resistanceOhm)
  // Margins are differences of figures that may share inputs, so each has its own doubt; both must hold.
  const holds = (margin: Figure) =>
    conformityProbability(margin.value, standardUncertainty(margin), 0, Number.POSITIVE_INFINITY)
  const rises = holds(sum(range.riseTimeS, scaled(riseTimeS, -1)))
  const sinks = holds(sum(range.sinkCurrentA, scaled(lowCurrentA, -1)))
  // Bonferroni: the two margins may move together, so the product would promise too much.
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
 * Pull-up of a two-wire bus: the range of resistances, the best one that can be bought, and what to do when there is
 * none.
 *
 *     Rmin = (V_DD − V_OL)/I_OL ≤ R ≤ Rmax = tᵣ/(ln(7/3)·C_b),  C_b = L·c′ + n·C_i
 *     longest lead = (tᵣ/(ln(7/3)·Rmin) − n·C_i)/c′
 *
 * V_DD is the supply, V_OL the low level that a device must reach and I_OL the current with which it does, tᵣ the
 * longest rise time, L the length of the lead and c′ its capacitance per length, C_i that of one device, n their
 * number.
 *
 * The recommended resistor is, of the preferred values that are proven to keep both limits, the one nearest the geometric
 * middle of the range; where none is proven, the one with the best probability. Its tolerance counts, as anywhere within it alike.
 *
 * @param request - Supply [V], mode, load of the bus [F, m, F/m]; levels and currents where they differ from the mode's
 * @returns Range, every mode's range, a resistor, and remedies ordered by least change
 * @throws {DomainError} `limits-crossed` when the supply does not exceed the low level
 * @see UM10204, 7.1 (formulas published; limits of the modes from memory)
 * @example pullUp({ supplyV: exact(5), mode: 'fast', bus: { by: 'capacitance', capacitanceF: exact(200e-12) } }).recommended.resistanceOhm.value // 1600 ± 0
 * @example pullUp({ supplyV: exact(5), mode: 'fast', bus: { by: 'capacitance', capacitanceF: exact(400e-12) } }).feasible // false
 */
export function pullUp(request: PullUpRequest): PullUp {
  const taken: Assumption[] = []
  const sources: SourceId[] = ['um10204', 'gum']
  const notes: Note[] = []
  const limits = BUS_MODES[request.mode]
  const { supplyV } = request
  const low = supplyV.value > 2 ? 0.4 : 0.2 * supplyV.value
  const lowLevelV = assumed(
    request.lowLevelV,
    supplyV.value > 2 ? exact(0.4) : scaled(supplyV, 0.2),
    {
      field: '/lowLevel',
      value: supplyV.value > 2 ? '0.4 V' : `${digits(low)} V, a fifth of the supply`,
      standing: 'from-memory',
    },
    taken,
  )
  const sinkOfModeA = (mode: BusMode) =>
    supplyV.value > 2 || mode === 'fast-plus' ? BUS_MODES[mode].sinkA : 2e-3
  const sinkA = sinkOfModeA(request.mode)
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
  if (taken.some(({ standing }) => standing === 'from-memory')) sources.push('um10204-limits')
  if (supplyV.value <= lowLevelV.value) {
    throw new DomainError(
      'limits-crossed',
      `supply: expected more than the low level of ${digits(lowLevelV.value)} V, got ${digits(supplyV.value)} V`,
      { pointer: '/supply', min: lowLevelV.value, value: supplyV.value },
    )
  }
  const load = loadOf(request.bus, taken, sources)
  const capacitanceF = load.totalF
  const minOhm = smallestPullUpOhm(supplyV, lowLevelV, sinkCurrentA)
  const maxOhm = largestPullUpOhm(riseTimeS, capacitanceF)
  const feasible = minOhm.value <= maxOhm.value
  const limit = { riseTimeS, capacitanceF, supplyV, lowLevelV, sinkCurrentA }

  const modes = MODES.map((mode): ModeRow => {
    const row = BUS_MODES[mode]
    // An output is as strong in any mode; only a mode that asks for more than the one wanted needs another output.
    const askedA = sinkOfModeA(mode)
    const current = askedA > sinkA && askedA > sinkCurrentA.value ? exact(askedA) : sinkCurrentA
    const modeRiseTimeS = mode === request.mode ? riseTimeS : exact(row.riseTimeS)
    const modeMinOhm = smallestPullUpOhm(supplyV, lowLevelV, current)
    const modeMaxOhm = largestPullUpOhm(modeRiseTimeS, capacitanceF)
    const out: Mutable<ModeRow> = {
      mode,
      clockHz: row.clockHz,
      riseTimeS: modeRiseTimeS.value,
      minOhm: modeMinOhm,
      maxOhm: modeMaxOhm,
      feasible: modeMinOhm.value <= modeMaxOhm.value,
    }
    const longestM = longestLeadM(load, modeRiseTimeS, modeMinOhm)
    if (longestM !== undefined) out.longestLeadM = longestM
    return out
  })

  const result: Mutable<PullUp> = {
    minOhm,
    maxOhm,
    feasible,
    busCapacitanceF: capacitanceF,
    capacitanceLimitF: limits.capacitanceF,
    modes,
    remedies: feasible ? [] : remediesFor(request, load, limit, minOhm, maxOhm, modes),
    assumptions: taken,
    sources,
    notes,
  }
  if (feasible) {
    const tolerancePercent = assumed(
      request.tolerancePercent,
      1,
      { field: '/tolerancePercent', value: '1 %', standing: 'common-practice' },
      taken,
    )
    const best = bestChoice(minOhm, maxOhm, limit, tolerancePercent)
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
          text: 'There is a range, but with the doubt of the figures even the best resistor is not proven to keep both limits: measure the rise time from 30 to 70 % with an oscilloscope, or shorten the lead.',
        })
      }
    }
  }
  if (request.fittedOhm !== undefined) result.fitted = choiceOf(request.fittedOhm, limit)
  if (capacitanceF.value > limits.capacitanceF) {
    notes.push({
      code: 'bus-capacitance-above-limit',
      level: 'caution',
      text: `The bus loads its outputs with ${Math.round(capacitanceF.value * 1e12)} pF; the mode allows ${Math.round(limits.capacitanceF * 1e12)} pF. A pull-up that suits the arithmetic may still fail; shorten the lead or use a bus buffer.`,
    })
  }
  if (load.lead !== undefined && load.lead.lengthM.value > 1) {
    notes.push({
      code: 'long-bus-lead',
      level: 'caution',
      text: 'This bus is meant for leads inside one housing. Along a car it picks up ignition noise: twist each line with ground, keep it off the ignition leads, or send pulses by a differential pair instead.',
    })
  }
  return result
}

function longestLeadM(load: Load, riseTimeS: Figure, minOhm: Figure): Figure | undefined {
  if (load.lead === undefined) return undefined
  const leadF = sum(largestCapacitanceF(riseTimeS, minOhm), scaled(load.lead.inputsF, -1))
  return leadF.value > 0 ? quotient(leadF, load.lead.perLengthFPerM) : undefined
}

function bestChoice(
  minOhm: Figure,
  maxOhm: Figure,
  limit: Parameters<typeof choiceOf>[1],
  tolerancePercent: number,
): PullUpChoice | undefined {
  const middle = Math.sqrt(minOhm.value * maxOhm.value)
  const off = ({ resistanceOhm }: PullUpChoice) => Math.abs(Math.log(resistanceOhm.value / middle))
  const choices = preferredBetween('E24', minOhm.value, maxOhm.value).map((ohm) =>
    choiceOf(uncertain(ohm, 'pull-up: resistor', (ohm * tolerancePercent) / 100 / Math.sqrt(3)), limit),
  )
  const proven = choices.filter(({ result }) => result === 'conforms')
  const worth = (choice: PullUpChoice) => (proven.length > 0 ? -off(choice) : choice.probability)
  return (proven.length > 0 ? proven : choices).reduce<PullUpChoice | undefined>(
    (best, one) => (best === undefined || worth(one) > worth(best) ? one : best),
    undefined,
  )
}

function remediesFor(
  request: PullUpRequest,
  load: Load,
  limit: Parameters<typeof choiceOf>[1],
  minOhm: Figure,
  maxOhm: Figure,
  modes: readonly ModeRow[],
): PullUpRemedy[] {
  const remedies: PullUpRemedy[] = []
  const leadM = longestLeadM(load, limit.riseTimeS, minOhm)
  const mostF = largestCapacitanceF(limit.riseTimeS, minOhm)
  if (leadM !== undefined && load.lead !== undefined) {
    const shortenByM = sum(load.lead.lengthM, scaled(leadM, -1))
    remedies.push({
      kind: 'shorten-lead',
      text: `Shorten the lead by at least ${metres(shortenByM.value)}, to ${metres(leadM.value)} at most, and further by the doubt.`,
      leadM,
      shortenByM,
    })
  } else {
    remedies.push({
      kind: 'less-capacitance',
      text: `Bring the whole bus down to ${Math.round(mostF.value * 1e12)} pF at most: shorter lead, fewer inputs, no clamp diodes with much capacitance.`,
      capacitanceF: mostF,
    })
  }
  const slower = modes
    .slice(0, MODES.indexOf(request.mode))
    .filter((row) => row.feasible)
    .at(-1)
  if (slower !== undefined) {
    remedies.push({
      kind: 'slower-mode',
      text: `Clock the bus in ${slower.mode} mode (${slower.clockHz / 1000} kHz): pull-up from ${Math.round(slower.minOhm.value)} to ${Math.round(slower.maxOhm.value)} ohm.`,
      mode: slower.mode,
    })
  }
  const dropV = sum(limit.supplyV, scaled(limit.lowLevelV, -1))
  remedies.push(
    {
      kind: 'stronger-driver',
      text: 'Use outputs that sink at least this current at the low level, on every device of the bus.',
      sinkCurrentA: quotient(dropV, maxOhm),
    },
    {
      kind: 'lower-supply',
      text: 'Pull up to this voltage at most, if every input on the bus still takes it as high (0.7 of its own supply).',
      supplyV: sum(limit.lowLevelV, product(limit.sinkCurrentA, maxOhm)),
    },
    {
      kind: 'separate-segments',
      text: 'Split the bus by a buffer so that the lead is a segment of its own, or send the signal by a differential pair.',
    },
  )
  return remedies
}

const metres = (value: number) => `${value.toFixed(2)} m`
