import { describe, expect, test } from 'vitest'
import { sensorAmplitudeV } from '../../../src/domain/electrics/sensor.js'
import { type ThresholdRequest, threshold } from '../../../src/domain/electrics/threshold.js'
import { exact } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const resistors = { toSupplyOhm: exact(10e3), toGroundOhm: exact(10e3), fromOutputOhm: exact(100e3) }
const sensor = { amplitudeV: exact(1.5), atMPerS: exact(20 / 3.6), pulsesPerM: exact(4) }
const design: ThresholdRequest = {
  supplyV: exact(5),
  sensor,
  topSpeedMPerS: exact(160 / 3.6),
  lowestSpeedMPerS: exact(5 / 3.6),
  noise: { peakToPeakV: exact(0.04) },
}
const codes = (request: ThresholdRequest) => threshold(request).notes.map(({ code }) => code)

describe('threshold() with resistors', () => {
  test('the amplitude must be half the hysteresis about the middle: 5/42 V, from 1.587 km/h', () => {
    const result = threshold({ supplyV: exact(5), resistors, sensor })
    expect(result.sensor?.requiredAmplitudeV.value).toBeCloseTo(5 / 42, 12)
    expect(result.sensor!.lowestSpeedMPerS!.value * 3.6).toBeCloseTo((20 * (5 / 42)) / 1.5, 12)
    expect(result.filter).toBeUndefined()
  })
  test('away from the middle, the farther threshold decides', () => {
    const result = threshold({ supplyV: exact(5), resistors, sensor, biasV: exact(2.4) })
    expect(result.sensor?.requiredAmplitudeV.value).toBeCloseTo(55 / 21 - 2.4, 12)
  })
  test.each([2.38, 2.62])('refuses a bias of %f V outside the thresholds', (bias) => {
    expect(() => threshold({ supplyV: exact(5), resistors, biasV: exact(bias) })).toThrow(
      expect.objectContaining({ code: 'limits-crossed' }),
    )
  })
  test('refuses swapped output levels', () => {
    expect(() =>
      threshold({ supplyV: exact(5), resistors, outputHighV: exact(0), outputLowV: exact(5) }),
    ).toThrow(expect.objectContaining({ code: 'limits-crossed' }))
  })
  test('warns of noise larger than the hysteresis', () => {
    expect(codes({ supplyV: exact(5), resistors, noise: { peakToPeakV: exact(0.3) } })).toContain(
      'noise-triggers',
    )
    expect(codes({ supplyV: exact(5), resistors, noise: { peakToPeakV: exact(0.2) } })).not.toContain(
      'noise-triggers',
    )
  })
  test('applies the filter only to noise of known frequency', () => {
    const filter = { resistanceOhm: exact(10e3), capacitanceF: exact(10e-9) }
    const over = (noise: ThresholdRequest['noise']) =>
      threshold({ supplyV: exact(5), resistors, filter, noise: noise! }).hysteresisOverNoise!.value
    const blind = over({ peakToPeakV: exact(0.1) })
    expect(blind).toBeCloseTo(5 / 21 / 0.1, 12)
    // Ten times the corner passes 1/sqrt(101).
    const corner = 1 / (2 * Math.PI * 1e-4)
    expect(over({ peakToPeakV: exact(0.1), frequencyHz: exact(10 * corner) }) / blind).toBeCloseTo(
      Math.sqrt(101),
      9,
    )
  })
})

describe('threshold() choosing resistors and filter', () => {
  const result = threshold(design)
  test('the corner is at least twice the highest frequency, 177.8 Hz, and less than a step above that', () => {
    const highest = (160 / 3.6) * 4
    expect(result.sensor?.highestFrequencyHz?.value).toBeCloseTo(highest, 9)
    expect(result.filter!.cornerFrequencyHz.value).toBeGreaterThanOrEqual(2 * highest)
    expect(result.filter!.cornerFrequencyHz.value).toBeLessThan(2 * highest * 1.25)
  })
  test('the hysteresis exceeds twice the noise and leaves the signal twice the needed amplitude', () => {
    expect(result.hysteresisOverNoise!.value).toBeGreaterThan(2)
    const amplitude = sensorAmplitudeV(sensor, exact(5 / 3.6), result.filter!.cornerFrequencyHz).value
    expect(amplitude / result.sensor!.requiredAmplitudeV.value).toBeGreaterThan(2)
    expect(result.sensor!.lowestSpeedMPerS!.value).toBeLessThan(5 / 3.6)
  })
  test('its resistors have 1 % tolerance, which is in the uncertainty of the thresholds', () => {
    expect(plusMinus(result.resistors.fromOutputOhm) / result.resistors.fromOutputOhm.value).toBeCloseTo(
      0.02 / Math.sqrt(3),
      12,
    )
    expect(plusMinus(result.upperV)).toBeGreaterThan(0)
  })
  test('names the chosen values', () => {
    expect(result.assumptions.map(({ field }) => field)).toEqual(
      expect.arrayContaining(['/hysteresis', '/filter', '/cornerRatio', '/tolerancePercent']),
    )
  })
  test('warns if the sensor is too weak for the wanted speed', () => {
    // 0.375 V of signal at 5 km/h against twice 0.6 V and twice 1.5 V of noise.
    expect(codes({ ...design, noise: { peakToPeakV: exact(0.6) } })).toContain('noise-over-signal')
    expect(codes({ ...design, noise: { peakToPeakV: exact(1.5) } })).toContain('lowest-speed-not-reached')
    expect(codes(design)).not.toContain('noise-over-signal')
  })
  test('advises a clamp for 12 V peak at top speed', () => {
    expect(threshold(design).sensor!.openCircuitAtTopSpeedV!.value).toBeCloseTo(12, 9)
    expect(codes(design)).toContain('clamp-input')
  })
  test('a peak measured at top speed replaces the proportional one', () => {
    const measured = threshold({ ...design, sensor: { ...sensor, amplitudeAtTopSpeedV: exact(2.4) } })
    expect(measured.sensor!.openCircuitAtTopSpeedV!.value).toBe(2.4)
    expect(measured.sensor!.inputAtTopSpeedV!.value).toBeCloseTo(
      2.4 * measured.filter!.gainAtTopSpeed!.value,
      12,
    )
    expect(measured.notes.map(({ code }) => code)).not.toContain('clamp-input')
  })
  // Found 2026-11: "topSpeed: is needed with sensor", although a sensor without that amplitude does not need it.
  test('refuses an amplitude at top speed without the top speed', () => {
    expect(() =>
      threshold({ supplyV: exact(5), resistors, sensor: { ...sensor, amplitudeAtTopSpeedV: exact(2.4) } }),
    ).toThrow(
      expect.objectContaining({
        code: 'needs-another-field',
        message:
          'topSpeed: is needed with sensor.amplitudeAtTopSpeed; give it, or leave out sensor.amplitudeAtTopSpeed',
        context: expect.objectContaining({ pointer: '/topSpeed' }),
      }),
    )
  })
  test('warns if only speeds above the top speed trigger', () => {
    const slow = { ...design, topSpeedMPerS: exact(4 / 3.6), lowestSpeedMPerS: exact(3 / 3.6) }
    expect(codes({ ...slow, noise: { peakToPeakV: exact(2) } })).toContain('triggers-above-top-speed')
    expect(codes(slow)).not.toContain('triggers-above-top-speed')
  })
  test('refuses a hysteresis of the whole swing', () => {
    expect(() => threshold({ supplyV: exact(5), hysteresisV: exact(5) })).toThrow(
      expect.objectContaining({ code: 'limits-crossed' }),
    )
  })
})
