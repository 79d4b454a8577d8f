import type { Static } from '@sinclair/typebox'
import {
  figureOut,
  figureSi,
  frequencyOut,
  lengthOut,
  perDistanceOut,
  ratioFigure,
  ratioOut,
  speedOut,
  timeOut,
  valueSi,
} from '../codec/measures.js'
import { nearestRatios } from '../domain/measure/approximation.js'
import { exact, type Figure, product, quotient, scaled } from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import { type ExactRatio, ratioOf, ratioOfDecimal } from '../domain/measure/ratio.js'
import { fromSi } from '../domain/measure/units.js'
import { accumulatorWord } from '../domain/pulses/scaling.js'
import {
  counterWrapS,
  crossoverHz,
  gateSpeedStepMPerS,
  lowestSpeedMPerS,
  periodSpeedStepMPerS,
  tickWithinPeriodS,
} from '../domain/pulses/timing.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import type { MeasureIn, SetMeasureIn } from '../schemas/measures.js'
import type {
  PulseRatioAnswer,
  PulseRatioRequest,
  PulseScalingAnswer,
  PulseScalingRequest,
} from '../schemas/pulses.js'
import { provenance } from './provenance.js'
import { geometryAt } from './tires.js'

/** Maximum number of scaler settings shown. */
const MAX_SETTINGS = 12

/** Meters in a mile over meters in a kilometer: exact. */
const MILE_PER_KM = ratioOf(1_609_344, 1_000_000)

/** The answer of `POST /v1/pulses/ratio`. */
export function pulseRatioOut(
  request: Static<typeof PulseRatioRequest>,
  table: SizeTable,
): Static<typeof PulseRatioAnswer> {
  const geometry = geometryAt('/tire', request.tire, table)
  const shaft =
    request.shaftTurnsPerWheelTurn === undefined
      ? exact(1)
      : ratioFigure(request.shaftTurnsPerWheelTurn, 'shaft turns per wheel turn')
  const pulsesPerTurn = scaled(shaft, request.pulsesPerTurn)
  const pulsesPerM = product(geometry.turnsPerM, pulsesPerTurn)
  const perM = pulsesPerM.value
  const timed = (wire: SetMeasureIn<'time'> | undefined) =>
    wire === undefined ? undefined : valueSi('time', wire)
  const tickS = timed(request.timerTick)
  const gateS = timed(request.gateTime)
  const topMPerS = request.topSpeed === undefined ? undefined : valueSi('speed', request.topSpeed)
  const notes: Note[] = [...geometry.notes]

  const speeds = tableSpeeds(request.speeds, topMPerS)
  if (tickS !== undefined) tickWithinPeriodS(perM, Math.max(...speeds), tickS, 1)
  const out: Static<typeof PulseRatioAnswer> = {
    pulses: figureOut(perDistanceOut, pulsesPerM),
    distancePerPulse: figureOut(lengthOut, quotient(exact(1), pulsesPerM)),
    table: speeds.map((speedMPerS) => {
      const frequency = scaled(pulsesPerM, speedMPerS)
      const row: Static<typeof PulseRatioAnswer>['table'][number] = {
        speed: speedOut(speedMPerS),
        frequency: figureOut(frequencyOut, frequency),
        period: figureOut(timeOut, quotient(exact(1), frequency)),
      }
      if (tickS !== undefined)
        row.speedStepByPeriod = speedOut(periodSpeedStepMPerS(perM, speedMPerS, tickS, 1))
      if (gateS !== undefined) row.speedStepByGate = speedOut(gateSpeedStepMPerS(perM, gateS))
      return row
    }),
    constants: { speedTimesPeriod: speedTimesPeriod(1 / perM) },
    ...provenance({ sources: [...geometry.sources, 'definitions', 'eu-165-2014'], notes }),
  }
  if (request.zeroTimeout !== undefined) {
    const timeout = figureSi('time', request.zeroTimeout, 'zero timeout')
    out.lowestSpeedShown = figureOut(speedOut, lowestSpeedMPerS(pulsesPerM, timeout))
  }
  if (tickS !== undefined && gateS !== undefined) {
    const hz = crossoverHz(tickS, gateS)
    out.crossoverFrequency = frequencyOut(hz)
    out.crossoverSpeed = figureOut(speedOut, quotient(exact(hz), pulsesPerM))
  }
  if (request.interruptTime !== undefined && topMPerS !== undefined) {
    const load = valueSi('time', request.interruptTime) * perM * topMPerS * 100
    out.interruptLoadPercent = load
    if (load > 50) {
      out.notes.push({
        code: 'interrupt-load-high',
        level: 'caution',
        text: 'At top speed the pulse interrupt takes more than half of the processor time: pulses will be missed. Use fewer pulses per turn, a shorter interrupt, or a hardware counter.',
      })
    }
  }
  if (request.counterBits !== undefined && tickS !== undefined)
    out.counterWrap = timeOut(counterWrapS(request.counterBits, tickS))
  if (geometry.freeCircumferenceM !== undefined)
    out.onFreeCircumference = onFreeCircumference(geometry.freeCircumferenceM, pulsesPerTurn, pulsesPerM)
  return out
}

function tableSpeeds(
  given: ReadonlyArray<SetMeasureIn<'speed'>> | undefined,
  topMPerS: number | undefined,
): number[] {
  if (given !== undefined) return given.map((speed) => valueSi('speed', speed))
  if (topMPerS === undefined) return [10, 20, 50, 100].map((kmh) => kmh / 3.6)
  return Array.from({ length: 10 }, (_, index) => (topMPerS * (index + 1)) / 10)
}

function speedTimesPeriod(distancePerPulseM: number) {
  const kmhS = fromSi('speed', 'kmh', distancePerPulseM)
  const mphS = fromSi('speed', 'mph', distancePerPulseM)
  return { kmhS, mphS, kmhUs: kmhS * 1e6, mphUs: mphS * 1e6 }
}

/** Result of label arithmetic: pi times the diameter instead of the rolling circumference. */
function onFreeCircumference(freeM: Figure, pulsesPerTurn: Figure, pulsesPerM: Figure) {
  const onFree = pulsesPerTurn.value / freeM.value
  return {
    pulses: perDistanceOut(onFree),
    distancePerPulse: lengthOut(1 / onFree),
    differencePercent: (onFree / pulsesPerM.value - 1) * 100,
  }
}

const decimalPerKm = (wire: MeasureIn<'perDistance'>): ExactRatio =>
  'perKm' in wire ? ratioOfDecimal(wire.perKm) : ratioOfDecimal(wire.perMile).div(MILE_PER_KM)

/** The answer of `POST /v1/pulses/scaling`. */
export function pulseScalingOut(
  request: Static<typeof PulseScalingRequest>,
): Static<typeof PulseScalingAnswer> {
  const ratio = quotient(
    figureSi('perDistance', request.to, 'to'),
    figureSi('perDistance', request.from, 'from'),
  )
  const exactRatio = decimalPerKm(request.to).div(decimalPerKm(request.from))
  const out: Static<typeof PulseScalingAnswer> = {
    ratio: ratioOut(ratio),
    exactRatio: exactRatio.toFraction(),
    candidates: nearestRatios(exactRatio, request.maxTerm)
      .slice(0, MAX_SETTINGS)
      .map(({ numerator, denominator, relativeError }) => ({
        multiply: numerator,
        divide: denominator,
        errorPercent: relativeError * 100,
      })),
    ...provenance({ sources: ['definitions', 'gum', 'continued-fractions'], notes: [] }),
  }
  if (request.bits !== undefined) {
    const accumulator = accumulatorWord(exactRatio, request.bits)
    if (accumulator === undefined) {
      out.notes.push({
        code: 'no-accumulator-word',
        level: 'info',
        text: 'A phase accumulator outputs fewer pulses than it receives, and its word must be at least 1: this ratio is outside the range of the width.',
      })
    } else
      out.accumulator = {
        bits: request.bits,
        word: accumulator.word,
        errorPercent: accumulator.relativeError * 100,
      }
  }
  return out
}
