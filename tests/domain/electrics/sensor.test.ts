import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  cornerHz,
  lowestTriggeringMPerS,
  passedShare,
  type Sensor,
  sensorAmplitudeV,
} from '../../../src/domain/electrics/sensor.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const sensor: Sensor = { amplitudeV: exact(1.5), atMPerS: exact(20 / 3.6), pulsesPerM: exact(4) }

describe('first-order low-pass', () => {
  test('10 kohm and 1 nF: 15.915 kHz', () =>
    expect(cornerHz(exact(10e3), exact(1e-9)).value).toBeCloseTo(1e5 / (2 * Math.PI), 6))
  test('passes -3.0103 dB at the corner and falls 20 dB a decade far above it', () => {
    const dB = (f: number) => 20 * Math.log10(passedShare(exact(f), exact(1000)).value)
    expect(dB(1000)).toBeCloseTo(-10 * Math.log10(2), 9)
    expect(dB(1e6) - dB(1e7)).toBeCloseTo(20, 4)
  })
  test('the uncertainty of the corner agrees with finite differences', () => {
    const share = (corner: number) => passedShare(exact(800), exact(corner)).value
    const given = plusMinus(passedShare(exact(800), uncertain(1000, 'corner', 5)))
    expect(given).toBeCloseTo((share(1000.01) - share(999.99)) * 500, 8)
  })
})

describe('lowest speed = reference speed x threshold / reference amplitude (service data)', () => {
  test('1.5 V at 20 km/h and a needed peak of 0.12 V: 1.6 km/h', () => {
    expect(lowestTriggeringMPerS(sensor, exact(0.12), undefined)!.value * 3.6).toBeCloseTo(1.6, 12)
  })
  test('after a filter it is the speed at which the filtered amplitude is the needed peak', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.01, max: 1, noNaN: true }),
        fc.double({ min: 20, max: 1e5, noNaN: true }),
        (need, corner) => {
          const speed = lowestTriggeringMPerS(sensor, exact(need), exact(corner))
          // Far above the corner the amplitude levels out at 1.5 V x corner/(4/m x 20/3.6 m/s).
          const most = (1.5 * corner) / (4 * (20 / 3.6))
          fc.pre(Math.abs(need / most - 1) > 1e-6)
          if (need > most) expect(speed).toBeUndefined()
          else expect(sensorAmplitudeV(sensor, speed!, exact(corner)).value / need).toBeCloseTo(1, 6)
        },
      ),
    )
  })
  test('a filter never lowers the lowest speed', () => {
    const bare = lowestTriggeringMPerS(sensor, exact(0.12), undefined)!.value
    expect(lowestTriggeringMPerS(sensor, exact(0.12), exact(100))!.value).toBeGreaterThan(bare)
  })
  test('uncertainties of amplitude and needed peak add in quadrature', () => {
    const speed = lowestTriggeringMPerS(
      { ...sensor, amplitudeV: uncertain(1.5, 'amplitude', 0.045) },
      uncertain(0.12, 'need', 0.0048),
      undefined,
    )!
    // 3 % and 4 %, k = 1: 5 %; twice that at 95 %.
    expect(plusMinus(speed) / speed.value).toBeCloseTo(0.1, 12)
  })
})
