import { exact, type Figure } from '../measure/figure.js'
import { cautionNote, type Note } from '../measure/notes.js'
import { product, quotient, scaled } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import { fromSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import { type Tire, tireGeometryAt } from '../tires/geometry.js'
import type { SizeTable } from '../tires/size-table.js'
import {
  counterWrapS,
  crossoverHz,
  gateSpeedStepMPerS,
  lowestSpeedMPerS,
  periodSpeedStepMPerS,
  tickWithinPeriodS,
} from './timing.js'

export interface PulseRatioRequest {
  readonly tire: Tire
  /** Pulses in one turn of the shaft that carries the ring. */
  readonly pulsesPerTurn: number
  /** Left out: 1. */
  readonly shaftTurnsPerWheelTurn?: Figure
  readonly topSpeedMPerS?: number
  readonly speedsMPerS?: readonly number[]
  readonly zeroTimeoutS?: Figure
  readonly timerTickS?: number
  readonly gateTimeS?: number
  readonly interruptTimeS?: number
  readonly counterBits?: number
}

export interface PulseRatioRow {
  readonly speedMPerS: number
  readonly frequencyHz: Figure
  readonly periodS: Figure
  /** Absent without a tick. */
  readonly speedStepByPeriodMPerS?: number
  /** Absent without a gate. */
  readonly speedStepByGateMPerS?: number
}

/** Result of label arithmetic: pi times the diameter instead of the rolling circumference. */
export interface OnFreeCircumference {
  readonly pulsesPerM: number
  readonly distancePerPulseM: number
  readonly differencePercent: number
}

export interface PulseRatio {
  readonly pulsesPerM: Figure
  readonly distancePerPulseM: Figure
  readonly table: readonly PulseRatioRow[]
  readonly constants: {
    readonly speedTimesPeriod: {
      readonly kmhS: number
      readonly mphS: number
      readonly kmhUs: number
      readonly mphUs: number
    }
  }
  readonly lowestSpeedShownMPerS?: Figure
  readonly crossoverFrequencyHz?: number
  readonly crossoverSpeedMPerS?: Figure
  readonly interruptLoadPercent?: number
  readonly counterWrapS?: number
  /** Absent for a tire without a known diameter. */
  readonly onFreeCircumference?: OnFreeCircumference
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Share of the processor time above which interrupts leave too little for the rest; common practice, no source. [%] */
const BUSY_PERCENT = 50

/** Speeds of the table where none are given, and no top speed either. [m/s] */
const DEFAULT_SPEEDS_M_PER_S = [10, 20, 50, 100].map((kmh) => kmh / 3.6)

function tableSpeeds({ speedsMPerS, topSpeedMPerS }: PulseRatioRequest): readonly number[] {
  if (speedsMPerS !== undefined) return speedsMPerS
  if (topSpeedMPerS === undefined) return DEFAULT_SPEEDS_M_PER_S
  return Array.from({ length: 10 }, (_, index) => (topSpeedMPerS * (index + 1)) / 10)
}

function rowOf(
  pulsesPerM: Figure,
  speedMPerS: number,
  { timerTickS, gateTimeS }: PulseRatioRequest,
): PulseRatioRow {
  const perM = pulsesPerM.value
  const frequencyHz = scaled(pulsesPerM, speedMPerS)
  const row: Mutable<PulseRatioRow> = {
    speedMPerS,
    frequencyHz,
    periodS: quotient(exact(1), frequencyHz),
  }
  if (timerTickS !== undefined)
    row.speedStepByPeriodMPerS = periodSpeedStepMPerS(perM, speedMPerS, timerTickS, 1)
  if (gateTimeS !== undefined) row.speedStepByGateMPerS = gateSpeedStepMPerS(perM, gateTimeS)
  return row
}

function speedTimesPeriod(distancePerPulseM: number) {
  const kmhS = fromSi('speed', 'kmh', distancePerPulseM)
  const mphS = fromSi('speed', 'mph', distancePerPulseM)
  return { kmhS, mphS, kmhUs: kmhS * 1e6, mphUs: mphS * 1e6 }
}

function onFreeCircumference(freeM: Figure, pulsesPerTurn: Figure, pulsesPerM: Figure): OnFreeCircumference {
  const onFree = pulsesPerTurn.value / freeM.value
  return {
    pulsesPerM: onFree,
    distancePerPulseM: 1 / onFree,
    differencePercent: (onFree / pulsesPerM.value - 1) * 100,
  }
}

/**
 * Pulses per distance of a ring behind a tire, and what timing makes of them.
 *
 *     K = N·r/C,  f = K·v,  interrupt load = 100·t·K·v_max
 *
 * N is the pulses in a turn of the shaft, r the turns of the shaft per wheel turn, C the rolling circumference, f the frequency at the speed v, t the
 * time of one interrupt, v_max the top speed. Timing: `periodSpeedStepMPerS`, `gateSpeedStepMPerS`, `crossoverHz`, `lowestSpeedMPerS`, `counterWrapS`.
 *
 * @param request - Tire, ring, speeds, timer
 * @param sizeTable - Finds tire sizes that no formula covers
 * @returns Pulses per distance, frequency, period and steps at each speed; each figure of the timer if what it needs is given
 * @throws {DomainError} `top-speed-unresolved` for a tick longer than the shortest period; those of `tireGeometry`
 * @see EU 165/2014, Annex I (w = pulses per turn/circumference); JCGM 100:2008, 5.1.6
 * @example pulseRatio({ tire: { rollingCircumferenceM: exact(2) }, pulsesPerTurn: 8 }, builtInSizes).pulsesPerM.value // 4 ± 1e-12
 * @example pulseRatio({ tire: { rollingCircumferenceM: exact(2) }, pulsesPerTurn: 8, interruptTimeS: 1e-3, topSpeedMPerS: 50 }, builtInSizes).interruptLoadPercent // 20 ± 1e-9
 */
export function pulseRatio(request: PulseRatioRequest, sizeTable: SizeTable): PulseRatio {
  const geometry = tireGeometryAt('/tire', request.tire, sizeTable)
  const { shaftTurnsPerWheelTurn = exact(1), timerTickS, gateTimeS, topSpeedMPerS } = request
  const pulsesPerTurn = scaled(shaftTurnsPerWheelTurn, request.pulsesPerTurn)
  const pulsesPerM = product(geometry.turnsPerM, pulsesPerTurn)
  const speeds = tableSpeeds(request)
  if (timerTickS !== undefined) tickWithinPeriodS(pulsesPerM.value, Math.max(...speeds), timerTickS, 1)
  const notes: Note[] = [...geometry.notes]
  const result: Mutable<PulseRatio> = {
    pulsesPerM,
    distancePerPulseM: quotient(exact(1), pulsesPerM),
    table: speeds.map((speedMPerS) => rowOf(pulsesPerM, speedMPerS, request)),
    constants: { speedTimesPeriod: speedTimesPeriod(1 / pulsesPerM.value) },
    sources: [...geometry.sources, 'definitions', 'eu-165-2014'],
    notes,
  }
  if (request.zeroTimeoutS !== undefined)
    result.lowestSpeedShownMPerS = lowestSpeedMPerS(pulsesPerM, request.zeroTimeoutS)
  if (timerTickS !== undefined && gateTimeS !== undefined) {
    result.crossoverFrequencyHz = crossoverHz(timerTickS, gateTimeS)
    result.crossoverSpeedMPerS = quotient(exact(result.crossoverFrequencyHz), pulsesPerM)
  }
  if (request.interruptTimeS !== undefined && topSpeedMPerS !== undefined) {
    result.interruptLoadPercent = request.interruptTimeS * pulsesPerM.value * topSpeedMPerS * 100
    if (result.interruptLoadPercent > BUSY_PERCENT) notes.push(INTERRUPT_LOAD_HIGH)
  }
  if (request.counterBits !== undefined && timerTickS !== undefined)
    result.counterWrapS = counterWrapS(request.counterBits, timerTickS)
  if (geometry.freeCircumferenceM !== undefined)
    result.onFreeCircumference = onFreeCircumference(geometry.freeCircumferenceM, pulsesPerTurn, pulsesPerM)
  return result
}

const INTERRUPT_LOAD_HIGH: Note = cautionNote(
  'interrupt-load-high',
  'At top speed the pulse interrupt takes more than half of the processor time: pulses will be missed. Use fewer pulses per turn, a shorter interrupt, or a hardware counter.',
)
