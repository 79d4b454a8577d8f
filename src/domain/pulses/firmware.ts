import { type GivenStage, givenStage } from '../drive-paths/given-path.js'
import { pathOutput } from '../drive-paths/path.js'
import { DomainError, within } from '../errors.js'
import { exact, type Figure } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { product, quotient } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { type Tire, tireGeometryAt } from '../tires/geometry.js'
import type { SizeTable } from '../tires/size-table.js'

/** Fraction of a unit in which firmware represents speed: whole units, tenths, hundredths. */
export const SPEED_PARTS = [1, 10, 100] as const
export type SpeedParts = (typeof SPEED_PARTS)[number]

export type IntegerBits = 16 | 32 | 64

/** How the processor counts and calculates. */
export interface FirmwareTimer {
  /** Step of the timer [s]. */
  readonly timerTickS: number
  /** Width of the timer counter. */
  readonly counterBits: number
  /** Width of the unsigned integers of the arithmetic. */
  readonly integerBits: IntegerBits
  readonly zeroTimeoutS: number
  readonly topSpeedMPerS: number
  /** Distance of one odometer step [m]. */
  readonly odometerStepM: number
  /** Parts of a unit of speed; left out: the finest whose constant fits. */
  readonly speedParts?: SpeedParts
  /** Smoothing factor of y += a (x - y), above 0 and at most 1. */
  readonly filterFactor?: number
}

/** Pulses per distance at the processor, with what they are based on. */
export interface PulseSupply {
  readonly pulsesPerM: Figure
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Pulses as they are given, or those of a tire and the stages behind it. */
export type FirmwareRequest = FirmwareTimer &
  ({ readonly pulsesPerM: Figure } | { readonly tire: Tire; readonly stages: readonly GivenStage[] })

/** Speed × period, which is constant. */
export interface SpeedConstant {
  /** Speed in the unit × period in ticks. */
  readonly floating: number
  /** The same in parts of the unit, rounded to a whole number. */
  readonly whole: number
  readonly errorPercent: number
  /** Minimum period whose speed fits 16 bits, in ticks. */
  readonly minTicksFor16Bits: number
  /** Maximum number of periods to average: the constant times this number fits. */
  readonly maxPeriods: number
}

export interface FilterShift {
  /** y += (x - y) >> shift, with the state stored shifted up. */
  readonly shift: number
  readonly factor: number
  readonly factorErrorPercent: number
  /** Bits of the shifted state for the longest period. */
  readonly stateBits: number
}

export interface OdometerStep {
  readonly pulsesPerStep: number
  /** 95 %. */
  readonly pulsesPerStepPlusMinus: number
  /** Whole pulses of a step. */
  readonly wholePulses: number
  /** Remainder, as a fraction of a pulse. */
  readonly residue: number
  /** The same in 1/65536 of a pulse, to carry from step to step. */
  readonly residue65536: number
  /** Drift of the odometer due to that rounding [parts per million]. */
  readonly driftPpm: number
  /** Drift without the residue [%]. */
  readonly driftWithoutResiduePercent: number
}

export interface Firmware {
  readonly pulsesPerM: Figure
  readonly distancePerPulseM: Figure
  readonly ticksPerSecond: number
  readonly counterBits: number
  readonly integerBits: IntegerBits
  readonly speedParts: SpeedParts
  readonly kmh: SpeedConstant
  readonly mph: SpeedConstant
  readonly timeoutTicks: number
  readonly lowestSpeedMPerS: number
  readonly topSpeedTicks: number
  /** Resolution at top speed: change of the speed for one tick of the period [m/s]. */
  readonly resolutionAtTopSpeedMPerS: number
  readonly counterWrapS: number
  readonly odometer: OdometerStep
  readonly filter?: FilterShift
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

const KMH_M_PER_S = 1000 / 3600
const MPH_M_PER_S = 1609.344 / 3600

/** Units of the residue in a pulse. */
const RESIDUE_PARTS = 65_536

/** Maximum value of an unsigned integer, limited to the integers of a double. */
const maxOf = (bits: number) => (bits >= 53 ? Number.MAX_SAFE_INTEGER : 2 ** bits - 1)

function speedConstant(ticks: number, parts: number, bits: IntegerBits): SpeedConstant {
  const whole = Math.round(ticks * parts)
  return {
    floating: ticks,
    whole,
    errorPercent: (100 * (whole - ticks * parts)) / (ticks * parts),
    minTicksFor16Bits: Math.ceil(whole / maxOf(16)),
    maxPeriods: Math.floor(maxOf(bits) / whole),
  }
}

function choosePart(kmhTicks: number, bits: IntegerBits, requested: SpeedParts | undefined): SpeedParts {
  const fits = (parts: number) => kmhTicks * parts <= maxOf(bits) && kmhTicks * parts >= 1
  if (requested !== undefined) {
    if (fits(requested)) return requested
    const needed = Math.ceil(Math.log2(kmhTicks * requested + 1))
    throw new DomainError(
      'integer-too-narrow',
      kmhTicks * requested < 1
        ? `timerTick: even a pulse period of one tick is longer than that of 1 km/h; give a shorter tick`
        : `integerBits: the constant for 1/${requested} of a unit needs ${needed} bits, but integers have ${bits}; use wider integers, coarser speedParts or a longer timerTick`,
      { pointer: kmhTicks * requested < 1 ? '/timerTick' : '/integerBits', needed },
    )
  }
  const finest = [...SPEED_PARTS].reverse().find(fits)
  if (finest === undefined) {
    throw new DomainError(
      'integer-too-narrow',
      kmhTicks < 1
        ? 'timerTick: longer than the period of a pulse at 1 km/h; give a shorter tick'
        : `integerBits: even whole units need ${Math.ceil(Math.log2(kmhTicks + 1))} bits, but integers have ${bits}; use wider integers or a longer timerTick`,
      { pointer: kmhTicks < 1 ? '/timerTick' : '/integerBits' },
    )
  }
  return finest
}

function filterShift(factor: number, timeoutTicks: number): FilterShift {
  const shift = Math.max(0, Math.min(15, Math.round(-Math.log2(within('filterFactor', factor, 1e-9, 1)))))
  const rounded = 2 ** -shift
  return {
    shift,
    factor: rounded,
    factorErrorPercent: 100 * (rounded / factor - 1),
    stateBits: Math.ceil(Math.log2(timeoutTicks + 1)) + shift,
  }
}

function odometerStep(pulsesPerM: Figure, stepM: number): OdometerStep {
  const pulses = product(pulsesPerM, exact(stepM))
  const scaled = Math.round(pulses.value * RESIDUE_PARTS)
  const wholePulses = Math.floor(scaled / RESIDUE_PARTS)
  if (wholePulses < 1) {
    throw new DomainError(
      'step-below-pulse',
      `odometerStep: ${pulses.value} pulses per step, less than one; give a longer step`,
      { pointer: '/odometerStep' },
    )
  }
  const residue65536 = scaled - wholePulses * RESIDUE_PARTS
  return {
    pulsesPerStep: pulses.value,
    pulsesPerStepPlusMinus: plusMinus(pulses),
    wholePulses,
    residue: residue65536 / RESIDUE_PARTS,
    residue65536,
    driftPpm: (1e6 * (pulses.value - scaled / RESIDUE_PARTS)) / pulses.value,
    driftWithoutResiduePercent: (100 * (pulses.value - wholePulses)) / wholePulses,
  }
}

/** Ticks of the timeout, checked to fit counter and integers. */
function timeoutTicksOf({ timerTickS, counterBits, integerBits, zeroTimeoutS }: FirmwareTimer): number {
  const timeoutTicks = Math.round(zeroTimeoutS / timerTickS)
  if (timeoutTicks < 1) {
    throw new DomainError('out-of-range', 'zeroTimeout: shorter than one timerTick', {
      pointer: '/zeroTimeout',
    })
  }
  if (timeoutTicks > maxOf(counterBits)) {
    throw new DomainError(
      'timeout-beyond-counter',
      `zeroTimeout: ${timeoutTicks} ticks, but a counter of ${counterBits} bits wraps after ${2 ** counterBits}; shorten the timeout, lengthen the tick by a prescaler, or count overflows for a wider counter`,
      { pointer: '/zeroTimeout' },
    )
  }
  if (timeoutTicks > maxOf(integerBits)) {
    throw new DomainError(
      'integer-too-narrow',
      `integerBits: zeroTimeout is ${timeoutTicks} ticks, more than ${integerBits} bits hold; use wider integers or a longer timerTick`,
      { pointer: '/integerBits' },
    )
  }
  return timeoutTicks
}

/** Period at top speed in ticks, checked to be at least one. */
function topSpeedTicksOf(perPulseM: number, { topSpeedMPerS, timerTickS }: FirmwareTimer): number {
  const topSpeedTicks = perPulseM / topSpeedMPerS / timerTickS
  if (topSpeedTicks < 1) {
    throw new DomainError(
      'top-speed-unresolved',
      `timerTick: at top speed pulses come every ${topSpeedTicks} ticks, more than one per tick; give a shorter tick, or divide the pulses`,
      { pointer: '/timerTick' },
    )
  }
  return topSpeedTicks
}

/** Below this, rounding of a whole constant may exceed 0.05 %. */
const COARSE = 1000

function notesOf(
  { kmh, mph, filter }: Pick<Firmware, 'kmh' | 'mph' | 'filter'>,
  integerBits: IntegerBits,
): Note[] {
  const notes: Note[] = []
  if ([kmh, mph].some(({ whole }) => whole < COARSE)) {
    notes.push(
      cautionNote(
        'constant-coarse',
        'The whole constant is small, so its rounding affects the speed: use a shorter timerTick or finer speedParts.',
      ),
    )
  }
  if (filter !== undefined && filter.stateBits > integerBits) {
    notes.push(
      cautionNote(
        'filter-state-too-wide',
        `The state of the filter needs ${filter.stateBits} bits for the longest period, but integers have ${integerBits}: it overflows near a stop. Use wider integers for it, a smaller shift or a shorter timeout.`,
      ),
    )
  }
  if (Math.min(kmh.maxPeriods, mph.maxPeriods) < 2) {
    notes.push(
      infoNote(
        'one-period-only',
        'Twice the constant does not fit these integers: several periods cannot be timed as one.',
      ),
    )
  }
  return notes
}

/**
 * Firmware constants for speed and distance from pulses.
 *
 *     speed·period = 1/(K·unit·τ) ticks      whole = round(parts·that)      lowest speed = 1/(K·T)
 *     shift = round(−log₂ a)      step = K·S pulses = whole + residue/65536
 *
 * K pulses per meter, a the smoothing factor, τ the tick, T the zero timeout, S the odometer step. Speed in parts of a unit = whole / period in ticks, in
 * integers; average periods before dividing. Carrying the residue from step to step prevents drift of the odometer.
 *
 * @param supply - Pulses per distance, with their sources and notes
 * @param timer - Tick, widths, timeout, step, filter
 * @returns Constants as floating and whole numbers, with the limits of the widths
 * @throws {DomainError} `integer-too-narrow`, `timeout-beyond-counter`, `step-below-pulse`, `top-speed-unresolved`, `out-of-range`
 * @see definitions; JCGM 100:2008 for the uncertainty of K
 * @example firmware({ pulsesPerM: exact(4), sources: [], notes: [] }, { timerTickS: 1e-6, counterBits: 32, integerBits: 32, zeroTimeoutS: 0.45, topSpeedMPerS: 50, odometerStepM: 100 }).kmh.floating // 900000 ± 1e-6
 * @example firmware({ pulsesPerM: exact(4), sources: [], notes: [] }, { timerTickS: 1e-6, counterBits: 16, integerBits: 32, zeroTimeoutS: 0.45, topSpeedMPerS: 50, odometerStepM: 100 }) // throws timeout-beyond-counter
 */
export function firmware(supply: PulseSupply, timer: FirmwareTimer): Firmware {
  const { pulsesPerM } = supply
  const { timerTickS, counterBits, integerBits, zeroTimeoutS, topSpeedMPerS, filterFactor } = timer
  const distancePerPulseM = quotient(exact(1), pulsesPerM)
  const perPulseM = distancePerPulseM.value
  const kmhTicks = perPulseM / KMH_M_PER_S / timerTickS
  const mphTicks = perPulseM / MPH_M_PER_S / timerTickS
  const timeoutTicks = timeoutTicksOf(timer)
  const topSpeedTicks = topSpeedTicksOf(perPulseM, timer)
  const speedParts = choosePart(kmhTicks, integerBits, timer.speedParts)
  const result: Mutable<Firmware> = {
    pulsesPerM,
    distancePerPulseM,
    ticksPerSecond: 1 / timerTickS,
    counterBits,
    integerBits,
    speedParts,
    kmh: speedConstant(kmhTicks, speedParts, integerBits),
    mph: speedConstant(mphTicks, speedParts, integerBits),
    timeoutTicks,
    lowestSpeedMPerS: perPulseM / zeroTimeoutS,
    topSpeedTicks,
    resolutionAtTopSpeedMPerS: topSpeedMPerS / topSpeedTicks,
    counterWrapS: 2 ** counterBits * timerTickS,
    odometer: odometerStep(pulsesPerM, timer.odometerStepM),
    sources: [...supply.sources, 'definitions', 'gum'],
    notes: [],
  }
  if (filterFactor !== undefined) result.filter = filterShift(filterFactor, timeoutTicks)
  result.notes = [...supply.notes, ...notesOf(result, integerBits)]
  return result
}

function supplyOf(request: FirmwareRequest, sizeTable: SizeTable): PulseSupply {
  if ('pulsesPerM' in request)
    return { pulsesPerM: request.pulsesPerM, sources: ['caller-reading'], notes: [] }
  const geometry = tireGeometryAt('/tire', request.tire, sizeTable)
  const path = pathOutput(geometry.turnsPerM, request.stages.map(givenStage))
  if (path.signal === 'turns') {
    throw new DomainError(
      'path-order',
      'stages: there is no pulse-ring, so the path carries no pulses; add one',
      { pointer: '/stages' },
    )
  }
  return {
    pulsesPerM: path.outputPerM,
    sources: [...geometry.sources, 'eu-165-2014'],
    notes: geometry.notes,
  }
}

/**
 * Firmware constants for pulses as given, or for those of a tire and the stages behind it.
 *
 *     K as given, or turns per distance · product of the ratios of the stages
 *
 * K is pulses per distance.
 *
 * @param request - Pulses, or tire and stages; timer, widths, timeout, step, filter
 * @param sizeTable - Finds tire sizes that no formula covers
 * @returns The constants of `firmware`
 * @throws {DomainError} `path-order` without a pulse ring among the stages; those of `firmware`, `tireGeometry` and `pathOutput`
 * @see `firmware`; EU 165/2014, Annex I (w = pulses per turn/circumference)
 * @example firmwareConstants({ tire: { rollingCircumferenceM: exact(2) }, stages: [{ kind: 'pulse-ring', pulsesPerTurn: 8 }], timerTickS: 1e-6, counterBits: 32, integerBits: 32, zeroTimeoutS: 0.45, topSpeedMPerS: 50, odometerStepM: 100 }, builtInSizes).kmh.floating // 900000 ± 1e-6
 */
export function firmwareConstants(request: FirmwareRequest, sizeTable: SizeTable): Firmware {
  return firmware(supplyOf(request, sizeTable), request)
}
