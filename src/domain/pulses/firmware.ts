import { DomainError, within } from '../errors.js'
import { exact, type Figure, product, quotient } from '../measure/figure.js'
import type { Mutable } from '../mutable.js'

/** Parts of a unit in which a firmware keeps speed: whole units, tenths, hundredths. */
export const SPEED_PARTS = [1, 10, 100] as const
export type SpeedParts = (typeof SPEED_PARTS)[number]

export type IntegerBits = 16 | 32 | 64

export interface FirmwareInput {
  /** Pulses per meter. */
  readonly pulsesPerM: Figure
  /** Step of the timer [s]. */
  readonly tickS: number
  /** Width of the timer counter. */
  readonly counterBits: number
  /** Width of the unsigned integers of the arithmetic. */
  readonly integerBits: IntegerBits
  /** Parts of a unit of speed; left out: the finest whose constant fits. */
  readonly speedParts?: SpeedParts
  readonly zeroTimeoutS: number
  readonly topSpeedMPerS: number
  /** Distance of one step of the record [m]. */
  readonly odometerStepM: number
  /** Smoothing factor of y += a (x - y), above 0 and at most 1. */
  readonly filterFactor?: number
}

/** Speed × period, the same at every speed. */
export interface SpeedConstant {
  /** Speed in the unit times period in ticks. */
  readonly floating: number
  /** The same for parts of the unit, in a whole number. */
  readonly whole: number
  readonly errorPercent: number
  /** Shortest period whose speed still fits 16 bits, in ticks. */
  readonly minTicksFor16Bits: number
  /** Most periods that can be averaged: the constant times so many still fits. */
  readonly maxPeriods: number
}

export interface FilterShift {
  /** y += (x - y) >> shift, with the state kept shifted up. */
  readonly shift: number
  readonly factor: number
  readonly factorErrorPercent: number
  /** Bits that the shifted state needs for the longest period. */
  readonly stateBits: number
}

export interface OdometerStep {
  readonly pulses: Figure
  /** Whole pulses of a step. */
  readonly wholePulses: number
  /** What is left over, in parts of a pulse. */
  readonly residue: number
  /** The same in 1/65536 of a pulse, to be carried from step to step. */
  readonly residue65536: number
  /** Drift of the record for that rounding [parts per million]. */
  readonly driftPpm: number
  /** Drift if the residue were dropped [%]. */
  readonly driftWithoutResiduePercent: number
}

export interface Firmware {
  readonly speedParts: SpeedParts
  readonly kmh: SpeedConstant
  readonly mph: SpeedConstant
  readonly ticksPerSecond: number
  readonly timeoutTicks: number
  readonly lowestSpeedMPerS: number
  readonly topSpeedTicks: number
  /** Steps of the shown speed at top speed for one tick of the period [m/s]. */
  readonly topSpeedStepMPerS: number
  readonly counterWrapS: number
  readonly pulsesPerMile: Figure
  readonly pulsesPerKm: Figure
  readonly distancePerPulseM: Figure
  readonly odometer: OdometerStep
  readonly filter?: FilterShift
}

const KMH_M_PER_S = 1000 / 3600
const MPH_M_PER_S = 1609.344 / 3600
const KM_M = 1000
const MILE_M = 1609.344

/** Parts of a pulse in which the residue is carried. */
const RESIDUE_PARTS = 65_536

/** Most value of an unsigned integer, as far as a double can count. */
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

function choosePart(kmhTicks: number, bits: IntegerBits, asked: SpeedParts | undefined): SpeedParts {
  const fits = (parts: number) => kmhTicks * parts <= maxOf(bits) && kmhTicks * parts >= 1
  if (asked !== undefined) {
    if (fits(asked)) return asked
    const needed = Math.ceil(Math.log2(kmhTicks * asked + 1))
    throw new DomainError(
      'integer-too-narrow',
      kmhTicks * asked < 1
        ? `timerTick: a pulse period of one tick is already more than the speeds wanted; give a shorter tick`
        : `integerBits: the constant for 1/${asked} of a unit needs ${needed} bits and ${bits} are there; take wider integers, coarser speedParts or a longer timerTick`,
      { pointer: kmhTicks * asked < 1 ? '/timerTick' : '/integerBits', needed },
    )
  }
  const finest = [...SPEED_PARTS].reverse().find(fits)
  if (finest === undefined) {
    throw new DomainError(
      'integer-too-narrow',
      kmhTicks < 1
        ? 'timerTick: it is longer than the period of a pulse at 1 km/h; give a shorter tick'
        : `integerBits: even whole units need ${Math.ceil(Math.log2(kmhTicks + 1))} bits and ${bits} are there; take wider integers or a longer timerTick`,
      { pointer: kmhTicks < 1 ? '/timerTick' : '/integerBits' },
    )
  }
  return finest
}

function filterShift(factor: number, timeoutTicks: number): FilterShift {
  const shift = Math.max(0, Math.min(15, Math.round(-Math.log2(within('filterFactor', factor, 1e-9, 1)))))
  const got = 2 ** -shift
  return {
    shift,
    factor: got,
    factorErrorPercent: 100 * (got / factor - 1),
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
      `odometerStep: ${pulses.value} pulses make one step, less than one; give a longer step`,
      { pointer: '/odometerStep' },
    )
  }
  const residue65536 = scaled - wholePulses * RESIDUE_PARTS
  return {
    pulses,
    wholePulses,
    residue: residue65536 / RESIDUE_PARTS,
    residue65536,
    driftPpm: (1e6 * (pulses.value - scaled / RESIDUE_PARTS)) / pulses.value,
    driftWithoutResiduePercent: (100 * (pulses.value - wholePulses)) / wholePulses,
  }
}

/**
 * All numbers that a program on a small processor needs to show speed and count distance from pulses.
 *
 *     speed·period = 1/(K·unit·τ) ticks      whole = round(parts·that)      lowest speed = 1/(K·T)
 *     shift = round(−log₂ a)      step = K·S pulses = whole + residue/65536
 *
 * K pulses per meter, a the smoothing factor, τ the tick, T the zero timeout, S the step of the record. Speed in parts of a unit = whole / period in ticks, in
 * integers; average periods before dividing. The residue is carried from step to step, so the record does not drift.
 *
 * @param input - Pulses per distance, timer, widths, timeout, step, filter
 * @returns Constants in floating and whole numbers with the limits of the widths
 * @throws {DomainError} `integer-too-narrow`, `timeout-beyond-counter`, `step-below-pulse`, `top-speed-unresolved`, `out-of-range`
 * @see definitions; JCGM 100:2008 for the uncertainty of K
 * @example firmware({ pulsesPerM: exact(4), tickS: 1e-6, counterBits: 32, integerBits: 32, zeroTimeoutS: 0.45, topSpeedMPerS: 50, odometerStepM: 100 }).kmh.floating // 900000 ± 1e-6
 * @example firmware({ pulsesPerM: exact(4), tickS: 1e-6, counterBits: 16, integerBits: 32, zeroTimeoutS: 0.45, topSpeedMPerS: 50, odometerStepM: 100 }) // throws timeout-beyond-counter
 */
export function firmware(input: FirmwareInput): Firmware {
  const { pulsesPerM, tickS, counterBits, integerBits, zeroTimeoutS, topSpeedMPerS } = input
  const distancePerPulseM = quotient(exact(1), pulsesPerM)
  const perPulseM = distancePerPulseM.value
  const kmhTicks = perPulseM / KMH_M_PER_S / tickS
  const mphTicks = perPulseM / MPH_M_PER_S / tickS
  const timeoutTicks = Math.round(zeroTimeoutS / tickS)
  if (timeoutTicks < 1) {
    throw new DomainError('out-of-range', 'zeroTimeout: it is shorter than one timerTick', {
      pointer: '/zeroTimeout',
    })
  }
  if (timeoutTicks > maxOf(counterBits)) {
    throw new DomainError(
      'timeout-beyond-counter',
      `zeroTimeout: ${timeoutTicks} ticks, and a counter of ${counterBits} bits wraps after ${2 ** counterBits}; shorten the timeout, lengthen the tick by a prescaler, or count overflows for a wider counter`,
      { pointer: '/zeroTimeout' },
    )
  }
  if (timeoutTicks > maxOf(integerBits)) {
    throw new DomainError(
      'integer-too-narrow',
      `integerBits: zeroTimeout is ${timeoutTicks} ticks, more than ${integerBits} bits hold; take wider integers or a longer timerTick`,
      { pointer: '/integerBits' },
    )
  }
  const topSpeedTicks = perPulseM / topSpeedMPerS / tickS
  if (topSpeedTicks < 1) {
    throw new DomainError(
      'top-speed-unresolved',
      `timerTick: at top speed pulses come every ${topSpeedTicks} ticks, more than one a tick; give a shorter tick, or divide the pulses`,
      { pointer: '/timerTick' },
    )
  }
  const speedParts = choosePart(kmhTicks, integerBits, input.speedParts)
  const result: Mutable<Firmware> = {
    speedParts,
    kmh: speedConstant(kmhTicks, speedParts, integerBits),
    mph: speedConstant(mphTicks, speedParts, integerBits),
    ticksPerSecond: 1 / tickS,
    timeoutTicks,
    lowestSpeedMPerS: perPulseM / zeroTimeoutS,
    topSpeedTicks,
    topSpeedStepMPerS: topSpeedMPerS / topSpeedTicks,
    counterWrapS: 2 ** counterBits * tickS,
    pulsesPerMile: product(pulsesPerM, exact(MILE_M)),
    pulsesPerKm: product(pulsesPerM, exact(KM_M)),
    distancePerPulseM,
    odometer: odometerStep(pulsesPerM, input.odometerStepM),
  }
  if (input.filterFactor !== undefined) result.filter = filterShift(input.filterFactor, timeoutTicks)
  return result
}
