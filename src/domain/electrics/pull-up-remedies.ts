import { digits } from '../measure/digits.js'
import { exact, type Figure } from '../measure/figure.js'
import { sum } from '../measure/propagation.js'
import type { Mutable } from '../mutable.js'
import {
  BUS_MODES,
  type Bus,
  type BusMode,
  bestChoice,
  busOf,
  DEFAULT_TOLERANCE_PERCENT,
  exceeds,
  type Known,
  LOW_SUPPLY_V,
  MODES,
  rangeOf,
  sinkOfModeA,
} from './two-wire-bus.js'

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

/**
 * Changes of a bus without a range after which a standard resistor is proven to keep both limits, smallest change first.
 *
 *     smallest change of length, capacitance, mode, sink current or supply for which `bestChoice` conforms
 *
 * @param request - The bus as given [V, m, F]
 * @param bus - The same with its levels and limits
 * @returns Remedies; one that cannot achieve this is not listed
 * @see UM10204, 7.1 (formulas published; limits of the modes from memory)
 * @example ((request) => pullUpRemedies(request, busOf(request, [], []))[0].kind)({ supplyV: exact(5), mode: 'fast', bus: { capacitanceF: exact(400e-12) } }) // "less-capacitance"
 */
export function pullUpRemedies(request: Known, bus: Bus): PullUpRemedy[] {
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
