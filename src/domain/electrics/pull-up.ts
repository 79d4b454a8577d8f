import { type Assumption, assumed } from '../measure/assumptions.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { exact, type Figure } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { quotient, scaled, sum } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import { type PullUpRemedy, pullUpRemedies } from './pull-up-remedies.js'
import {
  BUS_MODES,
  type Bus,
  type BusMode,
  bestChoice,
  busOf,
  choiceOf,
  DEFAULT_TOLERANCE_PERCENT,
  exceeds,
  type Known,
  type Load,
  largestCapacitanceF,
  MODES,
  type PullUpChoice,
  type PullUpRequest,
  type ResistanceRange,
  rangeOf,
  sinkOfModeA,
} from './two-wire-bus.js'

export interface ModeRow extends ResistanceRange {
  readonly mode: BusMode
  readonly clockHz: number
  /** Maximum of the mode; for the requested mode, the given value if there is one. */
  readonly riseTimeS: number
  /** Maximum lead length with a non-empty range; absent for a bus given by its capacitance, or if no lead is short enough. */
  readonly longestLeadM?: Figure
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
  const bus = busOf(request, taken, sources)
  const range = rangeOf(bus)
  const result: Mutable<PullUp> = {
    ...range,
    busCapacitanceF: bus.load.totalF,
    capacitanceLimitF: bus.capacitanceLimitF,
    modes: MODES.map((mode) => modeRow(mode, request.mode, bus)),
    remedies: range.feasible ? [] : pullUpRemedies(request, bus),
    budget: budget(range.maxOhm),
    assumptions: taken,
    sources,
    notes: [],
  }
  if (range.feasible) {
    const tolerancePercent = assumed(
      request.tolerancePercent,
      DEFAULT_TOLERANCE_PERCENT,
      { field: '/tolerancePercent', value: '1 %', standing: 'common-practice' },
      taken,
    )
    const best = bestChoice(bus, tolerancePercent)
    if (best !== undefined) {
      result.recommended = best
      sources.push('iec-60063')
    }
  }
  if (request.fittedOhm !== undefined) result.fitted = choiceOf(request.fittedOhm, bus)
  result.notes = pullUpNotes(result, bus)
  return result
}

function modeRow(mode: BusMode, ofRequest: BusMode, bus: Bus): ModeRow {
  const { supplyV, sinkCurrentA, load } = bus
  const row = BUS_MODES[mode]
  // An output has the same strength in any mode; only a mode that requires more than the requested one needs another output.
  const askedA = sinkOfModeA(mode, supplyV.value)
  const isWeak = askedA > sinkOfModeA(ofRequest, supplyV.value) && askedA > sinkCurrentA.value
  const riseTimeS = mode === ofRequest ? bus.riseTimeS : exact(row.riseTimeS)
  const range = rangeOf({ ...bus, sinkCurrentA: isWeak ? exact(askedA) : sinkCurrentA, riseTimeS })
  const out: Mutable<ModeRow> = { mode, clockHz: row.clockHz, riseTimeS: riseTimeS.value, ...range }
  const longestM = longestLeadM(load, riseTimeS, range.minOhm)
  if (longestM !== undefined) out.longestLeadM = longestM
  return out
}

function longestLeadM(load: Load, riseTimeS: Figure, minOhm: Figure): Figure | undefined {
  if (load.lead === undefined) return undefined
  const leadF = sum(largestCapacitanceF(riseTimeS, minOhm), scaled(load.lead.inputsF, -1))
  return leadF.value > 0 ? quotient(leadF, load.lead.perLengthFPerM) : undefined
}

function pullUpNotes({ feasible, recommended }: PullUp, { load, capacitanceLimitF }: Bus): Note[] {
  const notes: Note[] = []
  if (feasible && recommended === undefined) {
    notes.push(
      infoNote(
        'no-preferred-value',
        'The range is narrower than a step of the E24 series: put two resistors in parallel or in series.',
      ),
    )
  }
  if (recommended !== undefined && recommended.result !== 'conforms') {
    notes.push(
      cautionNote(
        'pull-up-not-proven',
        'There is a range, but within the uncertainty not even the best resistor is proven to keep both limits: measure the rise time from 30 to 70 % with an oscilloscope, or shorten the lead.',
      ),
    )
  }
  if (exceeds(load.totalF, capacitanceLimitF)) {
    notes.push(
      cautionNote(
        'bus-capacitance-above-limit',
        `The bus loads its outputs with ${Math.round(load.totalF.value * 1e12)} pF; the mode allows ${Math.round(capacitanceLimitF * 1e12)} pF. Even a calculated pull-up may fail; shorten the lead or use a bus buffer.`,
      ),
    )
  }
  if (load.lead !== undefined && load.lead.lengthM.value > 1) {
    notes.push(
      cautionNote(
        'long-bus-lead',
        'This bus is meant for leads inside one housing. Routed through a car it picks up ignition noise: twist each line with ground, keep it away from the ignition leads, or send pulses over a differential pair instead.',
      ),
    )
  }
  return notes
}
