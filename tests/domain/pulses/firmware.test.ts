import { describe, expect, test } from 'vitest'
import { exact, type Figure, uncertain } from '../../../src/domain/measure/figure.js'
import { type FirmwareTimer, firmware as firmwareOf } from '../../../src/domain/pulses/firmware.js'

const MILE_M = 1609.344
type Input = FirmwareTimer & { readonly pulsesPerM: Figure }
const input = (over: Partial<Input> = {}): Input => ({
  pulsesPerM: exact(4),
  timerTickS: 1e-6,
  counterBits: 32,
  integerBits: 32,
  zeroTimeoutS: 0.45,
  topSpeedMPerS: 200 / 3.6,
  odometerStepM: 100,
  ...over,
})

const firmware = ({ pulsesPerM, ...timer }: Input) =>
  firmwareOf({ pulsesPerM, sources: [], notes: [] }, timer)

// Exact arithmetic: 4000 pulses a km are 0.25 m a pulse; 1 km/h is 1/3.6 m/s, so speed x period = 0.9 km/h.s = 900 000 km/h.us.
describe('firmware: 4000 pulses per km, 1 us', () => {
  const made = firmware(input())
  test('speed times period: 900 000 km/h ticks, 559 234.07 mph ticks', () => {
    expect(made.kmh.floating).toBeCloseTo(900_000, 6)
    expect(made.mph.floating).toBeCloseTo(900_000 / 1.609344, 6)
  })
  test('the finest parts that fit 32 bits are hundredths: 90 000 000', () => {
    expect(made.speedParts).toBe(100)
    expect(made.kmh.whole).toBe(90_000_000)
    expect(made.mph.whole).toBe(55_923_407)
  })
  test('47 periods can be timed as one: 4 294 967 295 / 90 000 000 = 47.7', () => {
    expect(made.kmh.maxPeriods).toBe(47)
  })
  test('hundredths of km/h fit 16 bits from 1374 ticks on: 90 000 000 / 65 535 = 1373.3', () => {
    expect(made.kmh.minTicksFor16Bits).toBe(1374)
    expect(Math.floor(made.kmh.whole / 1374)).toBeLessThanOrEqual(65_535)
    expect(Math.floor(made.kmh.whole / 1373)).toBeGreaterThan(65_535)
  })
  test('timeout of 0.45 s is 450 000 ticks, lowest speed 2 km/h', () => {
    expect(made.timeoutTicks).toBe(450_000)
    expect(made.lowestSpeedMPerS * 3.6).toBeCloseTo(2, 12)
  })
  test('the counter wraps after 71.58 min', () => expect(made.counterWrapS / 60).toBeCloseTo(71.5827883, 6))
  test('at 200 km/h a period is 4500 ticks', () => expect(made.topSpeedTicks).toBeCloseTo(4500, 9))
  test('a step of 100 m is 400 pulses and no residue', () => {
    expect(made.odometer.wholePulses).toBe(400)
    expect(made.odometer.residue65536).toBe(0)
  })
})

describe('residue of a step', () => {
  // 8000 pulses a mile and steps of a tenth of a kilometer: 8000/16.09344 = 497.0969...
  const { odometer } = firmware(input({ pulsesPerM: exact(8000 / MILE_M) }))
  test('497 whole pulses and 0.0969 of one', () => {
    expect(odometer.wholePulses).toBe(497)
    expect(odometer.residue65536).toBe(Math.round((8000 / 16.09344 - 497) * 65_536))
  })
  test('carried over a million steps it drifts by less than the stated parts per million; without the residue, by 0.0195 %', () => {
    // A counter as a program runs it: 16 bits of residue, one pulse more at each overflow.
    let pulses = 0
    let carry = 0
    for (let step = 0; step < 1_000_000; step++) {
      pulses += odometer.wholePulses
      carry += odometer.residue65536
      if (carry >= 65_536) {
        carry -= 65_536
        pulses++
      }
    }
    const truth = (8000 / 16.09344) * 1e6
    expect(Math.abs(pulses / truth - 1) * 1e6).toBeLessThan(Math.abs(odometer.driftPpm) + 0.01)
    expect(odometer.driftWithoutResiduePercent).toBeCloseTo((100 * (8000 / 16.09344 - 497)) / 497, 9)
  })
  test('the uncertainty of the pulses per distance is that of the step', () => {
    const made = firmware(input({ pulsesPerM: uncertain(4, 'K', 0.02) }))
    expect(made.odometer.pulsesPerStepPlusMinus).toBeCloseTo(4, 12)
  })
})

describe('filter shift', () => {
  test.each([
    [0.2, 2, 0.25],
    [0.125, 3, 0.125],
    [1, 0, 1],
    [0.01, 7, 1 / 128],
  ])('factor %d is nearest to a shift of %d', (filterFactor, shift, factor) => {
    const { filter } = firmware(input({ filterFactor }))
    expect(filter).toMatchObject({ shift, factor })
  })
  test('450 000 ticks need 19 bits (2^18 = 262 144, 2^19 = 524 288), shifted by 3: 22', () => {
    expect(firmware(input({ filterFactor: 0.125 })).filter!.stateBits).toBe(22)
  })
})

describe('what does not fit is refused with the field', () => {
  test.each([
    [
      'a timeout longer than a 16-bit counter at 1 us (65 535)',
      { counterBits: 16, zeroTimeoutS: 0.065536 },
      'timeout-beyond-counter',
      '/zeroTimeout',
    ],
    [
      'hundredths in 16 bits',
      { integerBits: 16, zeroTimeoutS: 0.06, speedParts: 100 },
      'integer-too-narrow',
      '/integerBits',
    ],
    [
      'a period that 16 bits do not hold',
      { integerBits: 16, zeroTimeoutS: 0.07 },
      'integer-too-narrow',
      '/integerBits',
    ],
    ['more than a pulse a tick', { timerTickS: 0.01, zeroTimeoutS: 1 }, 'top-speed-unresolved', '/timerTick'],
    ['a step shorter than a pulse', { odometerStepM: 0.2 }, 'step-below-pulse', '/odometerStep'],
    ['a timeout below a tick', { zeroTimeoutS: 1e-7 }, 'out-of-range', '/zeroTimeout'],
  ] as const)('%s', (_, over, code, pointer) => {
    expect(() => firmware(input(over as Partial<Input>))).toThrow(
      expect.objectContaining({ code, context: expect.objectContaining({ pointer }) }),
    )
  })
  test('one tick less, and the timeout fits the counter', () => {
    expect(firmware(input({ counterBits: 16, zeroTimeoutS: 0.065535 })).timeoutTicks).toBe(65_535)
  })
})
