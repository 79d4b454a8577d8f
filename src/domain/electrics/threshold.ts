import { DomainError } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { digits } from '../measure/digits.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { cautionNote, type Note } from '../measure/notes.js'
import { product, quotient, scaled, sum } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import {
  comparatorThresholds,
  type FeedbackNetwork,
  feedbackForHysteresisOhm,
  type Thresholds,
} from './comparator.js'
import { type FilterResult, type InputFilter, inputFilter, type Noise, noiseBehind } from './input-filter.js'
import { preferredNearest } from './preferred-values.js'
import { lowestTriggeringMPerS, passedShare, type Sensor, sensorAmplitudeV } from './sensor.js'

export interface MeasuredSensor extends Sensor {
  /** Measured peak at top speed; without it, assumed proportional to speed. [V] */
  readonly amplitudeAtTopSpeedV?: Figure
}

export interface ThresholdRequest {
  readonly supplyV: Figure
  /** Fitted resistors; without them, they are chosen. */
  readonly resistors?: FeedbackNetwork
  /** Wanted hysteresis; without it, it is chosen between noise and signal. */
  readonly hysteresisV?: Figure
  readonly outputHighV?: Figure
  readonly outputLowV?: Figure
  /** Mean level of the signal at the input. */
  readonly biasV?: Figure
  readonly tolerancePercent?: number
  readonly sensor?: MeasuredSensor
  readonly topSpeedMPerS?: Figure
  /** Minimum speed at which the reading must work. */
  readonly lowestSpeedMPerS?: Figure
  readonly noise?: Noise
  readonly filter?: InputFilter
  /** Corner over the highest frequency, for a chosen filter. */
  readonly cornerRatio?: number
}

export interface SensorResult {
  /** Minimum peak at the input of the comparator. */
  readonly requiredAmplitudeV: Figure
  /** Absent if no speed triggers. */
  readonly lowestSpeedMPerS?: Figure
  readonly highestFrequencyHz?: Figure
  /** Open-circuit peak at top speed. */
  readonly openCircuitAtTopSpeedV?: Figure
  readonly inputAtTopSpeedV?: Figure
}

export interface ThresholdResult extends Thresholds {
  readonly resistors: FeedbackNetwork & { readonly chosen: boolean }
  readonly biasV: Figure
  readonly filter?: FilterResult
  readonly sensor?: SensorResult
  /** Hysteresis over the noise after the filter, both peak to peak. */
  readonly hysteresisOverNoise?: Figure
  readonly budget: readonly BudgetLine[]
  readonly assumptions: readonly Assumption[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Chosen divider resistors [ohm]. */
const DIVIDER_OHM = 10e3
/** Minimum target for hysteresis over noise. */
const NOISE_MARGIN = 2
/** Target for amplitude over needed peak at the lowest wanted speed. */
const SIGNAL_MARGIN = 2

/**
 * Input circuit of a magnetic (variable-reluctance) sensor: comparator thresholds, hysteresis against noise, filter, and
 * the lowest speed that triggers.
 *
 *     needed peak = max(V_H − bias, bias − V_L);  lowest speed from A₀·v/v₀ after the filter
 *     chosen H = √(2·noise · A(lowest wanted)), between twice the noise and the H that leaves A twice the needed peak
 *     corner ≥ 2 × highest frequency
 *
 * V_H and V_L are the thresholds, H the hysteresis; A is the amplitude of the sensor, A₀ that at the speed v₀, v the
 * lowest speed.
 *
 * Without a sensor, only the thresholds are given.
 *
 * @param request - Supply [V]; resistors, or the wanted hysteresis; sensor, noise, filter, speeds
 * @returns Thresholds with their uncertainty, filter, lowest speed, margins
 * @throws {DomainError} `limits-crossed` for a bias outside the thresholds, swapped output levels or a hysteresis above the output swing,
 *   `needs-another-field` for an amplitude at top speed without the top speed
 * @see derived: node equation, first-order low-pass; amplitude against speed from service data; margins: common practice
 * @example threshold({ supplyV: exact(5), resistors: { toSupplyOhm: exact(10e3), toGroundOhm: exact(10e3), fromOutputOhm: exact(100e3) } }).upperV.value // 2.619048 ± 1e-6
 */
export function threshold(request: ThresholdRequest): ThresholdResult {
  const { supplyV, sensor, topSpeedMPerS } = request
  if (sensor?.amplitudeAtTopSpeedV !== undefined && topSpeedMPerS === undefined) {
    throw new DomainError(
      'needs-another-field',
      'topSpeed: is needed with sensor.amplitudeAtTopSpeed; give it, or leave out sensor.amplitudeAtTopSpeed',
      { pointer: '/topSpeed' },
    )
  }
  const basis: Basis = { taken: [], sources: ['comparator-network', 'gum'], notes: [] }
  const { taken, sources, notes } = basis
  const levels = outputLevels(request, taken)
  const filter = inputFilter(request, taken, sources)
  const corner = filter?.cornerFrequencyHz
  const noiseV = noiseBehind(request.noise, corner)
  const network = request.resistors ?? chooseNetwork(request, { corner, noiseV, levels }, basis)
  const thresholds = comparatorThresholds(supplyV, network, levels.highV, levels.lowV)
  const result: Mutable<ThresholdResult> = {
    resistors: { ...network, chosen: request.resistors === undefined },
    ...thresholds,
    biasV: biasOf(request, thresholds, taken),
    budget: budget(thresholds.hysteresisV),
    assumptions: taken,
    sources,
    notes,
  }
  if (filter !== undefined) result.filter = filter
  if (noiseV !== undefined && noiseV.value > 0) {
    const over = quotient(thresholds.hysteresisV, noiseV)
    result.hysteresisOverNoise = over
    if (over.value < 1) {
      notes.push(
        cautionNote(
          'noise-triggers',
          'The noise is larger than the hysteresis: it causes pulses at standstill, which read as speed and add distance. Use more hysteresis, a lower corner or a shielded twisted lead.',
        ),
      )
    }
  }
  if (sensor !== undefined) {
    sources.push('variable-reluctance-sensor')
    result.sensor = sensorOf(request, sensor, result, corner, notes)
  }
  return result
}

/** What an answer is based on, as it grows. */
interface Basis {
  readonly taken: Assumption[]
  readonly sources: SourceId[]
  readonly notes: Note[]
}

interface OutputLevels {
  readonly highV: Figure
  readonly lowV: Figure
}

function outputLevels(request: ThresholdRequest, taken: Assumption[]): OutputLevels {
  const highV = assumed(
    request.outputHighV,
    request.supplyV,
    { field: '/outputHigh', value: 'the supply', standing: 'common-practice' },
    taken,
  )
  const lowV = assumed(
    request.outputLowV,
    exact(0),
    { field: '/outputLow', value: '0 V', standing: 'common-practice' },
    taken,
  )
  if (highV.value > lowV.value) return { highV, lowV }
  throw new DomainError(
    'limits-crossed',
    `outputHigh: expected more than the low output level of ${digits(lowV.value)} V, got ${digits(highV.value)} V`,
    { pointer: '/outputHigh', min: lowV.value, value: highV.value },
  )
}

/** Level that the signal swings about, between the thresholds. */
function biasOf(
  request: ThresholdRequest,
  { upperV, lowerV, midpointV }: Thresholds,
  taken: Assumption[],
): Figure {
  const biasV = request.biasV ?? midpointV
  if (request.biasV === undefined && request.sensor !== undefined) {
    taken.push({ field: '/bias', value: 'middle of the thresholds', standing: 'common-practice' })
  }
  if (biasV.value > lowerV.value && biasV.value < upperV.value) return biasV
  throw new DomainError(
    'limits-crossed',
    `bias: expected between the thresholds of ${lowerV.value.toFixed(4)} and ${upperV.value.toFixed(4)} V, got ${digits(biasV.value)} V; outside them the output may not return at standstill`,
    { pointer: '/bias', min: lowerV.value, max: upperV.value, value: biasV.value },
  )
}

/** What the resistors are chosen for: corner of the filter, noise behind it, output levels. */
interface Input {
  readonly corner: Figure | undefined
  readonly noiseV: Figure | undefined
  readonly levels: OutputLevels
}

/** Two equal divider resistors and the feedback for the wanted hysteresis, or for one between noise and signal. */
function chooseNetwork(request: ThresholdRequest, input: Input, basis: Basis): FeedbackNetwork {
  const { highV, lowV } = input.levels
  const swingV = highV.value - lowV.value
  const wantedV = request.hysteresisV?.value ?? wantedHysteresisV(request, input, swingV, basis)
  if (wantedV >= swingV) {
    throw new DomainError(
      'limits-crossed',
      `hysteresis: expected less than the output swing of ${digits(swingV)} V, got ${digits(wantedV)} V`,
      { pointer: '/hysteresis', max: swingV, value: wantedV },
    )
  }
  const tolerance = assumed(
    request.tolerancePercent,
    1,
    { field: '/tolerancePercent', value: '1 %', standing: 'common-practice' },
    basis.taken,
  )
  basis.sources.push('iec-60063')
  const resistor = (ohm: number, name: string) =>
    uncertain(ohm, `resistor ${name}`, (ohm * tolerance) / 100 / Math.sqrt(3))
  return {
    toSupplyOhm: resistor(DIVIDER_OHM, 'to supply'),
    toGroundOhm: resistor(DIVIDER_OHM, 'to ground'),
    fromOutputOhm: resistor(
      preferredNearest('E24', feedbackForHysteresisOhm(DIVIDER_OHM, swingV, wantedV)),
      'from output',
    ),
  }
}

function wantedHysteresisV(
  request: ThresholdRequest,
  { corner, noiseV }: Input,
  swingV: number,
  { taken, sources, notes }: Basis,
): number {
  sources.push('sensor-input-practice')
  const fromNoiseV = noiseV === undefined ? undefined : NOISE_MARGIN * noiseV.value
  // H is peak to peak and the signal must exceed half of it: an amplitude of H is a margin of two.
  const fromSignalV =
    request.sensor === undefined || request.lowestSpeedMPerS === undefined
      ? undefined
      : (2 / SIGNAL_MARGIN) * sensorAmplitudeV(request.sensor, request.lowestSpeedMPerS, corner).value
  if (fromNoiseV !== undefined && fromSignalV !== undefined && fromNoiseV > fromSignalV) {
    notes.push(
      cautionNote(
        'noise-over-signal',
        'No hysteresis both exceeds twice the noise and leaves the sensor twice the needed amplitude at the lowest wanted speed: reduce the noise or the air gap, or accept a higher lowest speed.',
      ),
    )
  }
  const [hysteresisV, reason] =
    fromNoiseV !== undefined && fromNoiseV > 0 && fromSignalV !== undefined
      ? [
          Math.sqrt(fromNoiseV * fromSignalV),
          'geometric mean of twice the noise and the amplitude at the lowest wanted speed',
        ]
      : fromSignalV !== undefined
        ? [fromSignalV / 2, 'half the amplitude at the lowest wanted speed']
        : fromNoiseV !== undefined && fromNoiseV > 0
          ? [fromNoiseV, 'twice the noise']
          : [swingV / 20, 'a twentieth of the output swing']
  const boundedV = Math.min(Math.max(hysteresisV, swingV / 1000), swingV / 2)
  taken.push({
    field: '/hysteresis',
    value: `${digits(boundedV, 3)} V: ${reason}`,
    standing: 'common-practice',
  })
  return boundedV
}

function sensorOf(
  request: ThresholdRequest,
  sensor: MeasuredSensor,
  { upperV, lowerV, biasV }: Thresholds & Pick<ThresholdResult, 'biasV'>,
  corner: Figure | undefined,
  notes: Note[],
): SensorResult {
  const up = sum(upperV, scaled(biasV, -1))
  const down = sum(biasV, scaled(lowerV, -1))
  const requiredAmplitudeV = up.value >= down.value ? up : down
  const result: Mutable<SensorResult> = { requiredAmplitudeV }
  const lowest = lowestTriggeringMPerS(sensor, requiredAmplitudeV, corner)
  if (lowest === undefined) {
    notes.push(
      cautionNote(
        'sensor-never-triggers',
        'The filter limits the amplitude to less than the comparator needs: no speed triggers. Raise the corner or lower the hysteresis.',
      ),
    )
  } else {
    result.lowestSpeedMPerS = lowest
    const wanted = request.lowestSpeedMPerS
    if (wanted !== undefined && lowest.value > wanted.value) {
      notes.push(
        cautionNote(
          'lowest-speed-not-reached',
          'The sensor is too weak for the lowest wanted speed: use less hysteresis, less noise, a smaller air gap, or an active sensor.',
        ),
      )
    }
  }
  const top = request.topSpeedMPerS
  if (top !== undefined) {
    result.highestFrequencyHz = product(sensor.pulsesPerM, top)
    result.openCircuitAtTopSpeedV = sensor.amplitudeAtTopSpeedV ?? sensorAmplitudeV(sensor, top, undefined)
    result.inputAtTopSpeedV =
      corner === undefined
        ? result.openCircuitAtTopSpeedV
        : product(result.openCircuitAtTopSpeedV, passedShare(result.highestFrequencyHz, corner))
    if (result.openCircuitAtTopSpeedV.value > request.supplyV.value / 2) {
      notes.push(
        cautionNote(
          'clamp-input',
          `At top speed the sensor gives ${digits(result.openCircuitAtTopSpeedV.value, 3)} V peak, more than the input withstands around its bias: put a series resistor and two clamp diodes in front of it.`,
        ),
      )
    }
  }
  if (lowest !== undefined && top !== undefined && lowest.value > top.value) {
    notes.push(
      cautionNote('triggers-above-top-speed', 'The lowest speed that triggers is above the given top speed.'),
    )
  }
  return result
}
