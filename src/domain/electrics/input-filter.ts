import { type Assumption, assumed } from '../measure/assumptions.js'
import { digits } from '../measure/digits.js'
import { type Figure, uncertain } from '../measure/figure.js'
import { product } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import type { Mutable } from '../mutable.js'
import { preferredNearest } from './preferred-values.js'
import { cornerHz, passedShare, type Sensor } from './sensor.js'

export interface InputFilter {
  readonly resistanceOhm: Figure
  readonly capacitanceF: Figure
}

export interface Noise {
  /** Peak to peak at the input, before the filter. [V] */
  readonly peakToPeakV: Figure
  /** Dominant frequency; without it, no attenuation by the filter is assumed. [Hz] */
  readonly frequencyHz?: Figure
}

export interface FilterResult {
  readonly resistanceOhm: Figure
  readonly capacitanceF: Figure
  readonly cornerFrequencyHz: Figure
  readonly chosen: boolean
  /** Delay of an edge well below the corner. [s] */
  readonly delayS: Figure
  /** Gain of the filter at the highest frequency. */
  readonly gainAtTopSpeed?: Figure
  readonly noiseGain?: Figure
}

/** Chosen filter resistor [ohm]: limits the current of a strong sensor, hardly loads a weak one. */
const FILTER_OHM = 10e3

/**
 * Noise behind the input filter, peak to peak.
 *
 *     n·|H(f)|;  n where the frequency f of the noise is not known, or there is no filter
 *
 * n is the noise before the filter, |H| the gain of the filter.
 *
 * @param noise - n and f, if known. [V, Hz]
 * @param corner - Corner frequency of the filter, if there is one. [Hz]
 * @returns Noise [V], or undefined if none is given
 * @throws {DomainError} `not-finite`
 * @see definition of the first-order low-pass
 * @example noiseBehind({ peakToPeakV: exact(2), frequencyHz: exact(100) }, exact(100)).value // 1.41421356 ± 1e-8
 */
export function noiseBehind(noise: Noise | undefined, corner: Figure | undefined): Figure | undefined {
  if (noise === undefined) return undefined
  if (noise.frequencyHz === undefined || corner === undefined) return noise.peakToPeakV
  return product(noise.peakToPeakV, passedShare(noise.frequencyHz, corner))
}

/** What a filter is chosen for. */
interface FilterNeeds {
  readonly sensor?: Sensor
  readonly topSpeedMPerS?: Figure
  readonly noise?: Noise
  readonly filter?: InputFilter
  readonly cornerRatio?: number
}

/**
 * The low-pass before a comparator: the fitted one, or one chosen for the highest frequency.
 *
 *     corner ≥ ratio·K·v,  R = 10 kΩ, C the largest of E12 that keeps it
 *
 * K is the pulses per distance of the sensor, v the top speed; R and C are the parts of the filter.
 *
 * @param request - Fitted filter [ohm, F], or sensor [1/m] and top speed [m/s]; ratio of the corner to the highest frequency, noise [V, Hz]
 * @param taken - Assumptions of the answer; gets those that are made
 * @param sources - Sources of the answer
 * @returns The filter with its corner, gains and delay; undefined if none is fitted and the highest frequency is not known
 * @throws {DomainError} `not-finite`
 * @see IEC 60063 (E12); derived: first-order low-pass; twice the highest frequency: common practice
 * @example inputFilter({ filter: { resistanceOhm: exact(10e3), capacitanceF: exact(1e-9) } }, [], []).cornerFrequencyHz.value // 15915.494309 ± 1e-6
 */
export function inputFilter(
  request: FilterNeeds,
  taken: Assumption[],
  sources: SourceId[],
): FilterResult | undefined {
  const { sensor, topSpeedMPerS } = request
  const highestHz =
    sensor === undefined || topSpeedMPerS === undefined
      ? undefined
      : product(sensor.pulsesPerM, topSpeedMPerS)
  let parts = request.filter
  const chosen = parts === undefined
  if (parts === undefined) {
    if (highestHz === undefined) return undefined
    const ratio = assumed(
      request.cornerRatio,
      2,
      { field: '/cornerRatio', value: '2 times the highest frequency', standing: 'common-practice' },
      taken,
    )
    const largestF = 1 / (2 * Math.PI * FILTER_OHM * ratio * highestHz.value)
    // The nearest value, or one step down if that puts the corner below the minimum.
    const nearestF = preferredNearest('E12', largestF)
    const capacitanceF = nearestF <= largestF ? nearestF : preferredNearest('E12', nearestF / 1.21)
    parts = {
      resistanceOhm: uncertain(FILTER_OHM, 'filter: resistor', (0.01 * FILTER_OHM) / Math.sqrt(3)),
      capacitanceF: uncertain(capacitanceF, 'filter: capacitor', (0.1 * capacitanceF) / Math.sqrt(3)),
    }
    taken.push({
      field: '/filter',
      value: `${FILTER_OHM} ohm within 1 %, ${digits(capacitanceF * 1e9, 2)} nF within 10 %`,
      standing: 'common-practice',
    })
    sources.push('iec-60063', 'sensor-input-practice')
  }
  const corner = cornerHz(parts.resistanceOhm, parts.capacitanceF)
  const result: Mutable<FilterResult> = {
    resistanceOhm: parts.resistanceOhm,
    capacitanceF: parts.capacitanceF,
    cornerFrequencyHz: corner,
    chosen,
    delayS: product(parts.resistanceOhm, parts.capacitanceF),
  }
  if (highestHz !== undefined) result.gainAtTopSpeed = passedShare(highestHz, corner)
  if (request.noise?.frequencyHz !== undefined) {
    result.noiseGain = passedShare(request.noise.frequencyHz, corner)
  }
  return result
}
