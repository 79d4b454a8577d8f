import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { MILE_M } from '../../../src/domain/measure/units.js'
import { type ComparisonRequest, comparePickUps } from '../../../src/domain/pick-ups/comparison.js'
import type { DrivenHead, PickUpOption } from '../../../src/domain/pick-ups/options.js'
import { builtInSizes } from '../../../src/domain/tires/size-table.js'

const KMH = 1 / 3.6
/** 1885 mm: the tire of the tachograph example w = 8 x 1e6/1885 = 4244.03 per km. */
const tire = { rollingCircumferenceM: exact(1.885) }
const ring: PickUpOption = { kind: 'shaft-ring', pulsesPerTurn: 8 }
const sensor: PickUpOption = {
  kind: 'magnetic-sensor',
  pulsesPerM: exact(4),
  amplitudeV: exact(1.5),
  atMPerS: exact(20 * KMH),
  requiredAmplitudeV: exact(0.12),
}
const satellite: PickUpOption = { kind: 'satellite', rateHz: 5 }
const propeller: PickUpOption = { kind: 'propeller-shaft', pulsesPerTurn: 4 }
const head: DrivenHead = {
  kind: 'driven-head',
  signal: propeller,
  head: { constantPerM: exact(1000 / MILE_M) },
}

const compare = (options: PickUpOption[], more: Partial<ComparisonRequest> = {}) =>
  comparePickUps(
    {
      tire,
      finalDrive: exact(3.7),
      trackWidthM: exact(1.4),
      speedsMPerS: [5 * KMH, 50 * KMH, 120 * KMH],
      options,
      ...more,
    },
    builtInSizes,
  )
const one = (option: PickUpOption, more: Partial<ComparisonRequest> = {}) =>
  compare([option], more).options[0]!

describe('pulses per distance', () => {
  test('C 1885 mm, 8 pulses a turn: w = 4244.03 per km (EU 165/2014, AETR App. 1)', () => {
    expect(one(ring).pulsesPerM!.value * 1000).toBeCloseTo(8e6 / 1885, 9)
    expect(8e6 / 1885).toBeCloseTo(4244.03, 2)
  })
  test('a propeller shaft turns 3.7 times as much, and the speedometer drive 7/20 of that', () => {
    expect(one(propeller).pulsesPerM!.value).toBeCloseTo((4 * 3.7) / 1.885, 12)
    const gearbox = one({ kind: 'gearbox', pulsesPerTurn: 1, driveRatio: exact(7 / 20) })
    // 760 turns a mile x 3.70 x 7/20 = 984.20 a mile.
    const per = gearbox.pulsesPerM!.value * 1.885 * 760
    expect(per).toBeCloseTo(984.2, 9)
  })
  test('a propeller shaft without the final drive is refused, with the field', () => {
    for (const option of [propeller, head]) {
      expect(() =>
        comparePickUps({ tire, speedsMPerS: [10], options: [ring, option] }, builtInSizes),
      ).toThrow(
        expect.objectContaining({
          code: 'needs-another-field',
          context: expect.objectContaining({ pointer: '/finalDrive' }),
        }),
      )
    }
  })
})

describe('lowest speed', () => {
  test('is 1/(K T): 4000/km and 0.45 s show from 2 km/h', () => {
    const { lowestSpeedMPerS } = one(
      { ...sensor, requiredAmplitudeV: exact(0.001) },
      { display: { zeroTimeoutS: 0.45 } },
    )
    expect(lowestSpeedMPerS.value * 3.6).toBeCloseTo(2, 12)
  })
  test('of a weak sensor is where its amplitude reaches the needed peak, 1.6 km/h = 20 km/h x 0.12/1.5', () => {
    expect(one(sensor, { display: { zeroTimeoutS: 5 } }).lowestSpeedMPerS.value * 3.6).toBeCloseTo(1.6, 12)
  })
  test('of a driven head is where the motor turns evenly: 30 rpm of 1000 a mile are 1.8 mph', () => {
    expect(one(head).lowestSpeedMPerS.value / (MILE_M / 3600)).toBeCloseTo(1.8, 9)
  })
  test('below it there is no reading', () => {
    const row = one(head, { speedsMPerS: [2 * KMH] }).table[0]!
    expect(row).toEqual({ speedMPerS: 2 * KMH, shown: false })
  })
})

describe('driven head', () => {
  test('turns 1000 rpm at 60 mph with 1000 turns a mile (TM 9-1829A)', () => {
    const row = one(head, { speedsMPerS: [(60 * MILE_M) / 3600] }).table[0]!
    expect(row.headSpeedPerS! * 60).toBeCloseTo(1000, 9)
  })
  test('adds the lag of its motor, and has at least the step of its motor', () => {
    const quick = {
      ...head,
      head: { ...head.head, readingUncertaintyMPerS: 0 },
      motor: { updateS: 0.25, lagS: 0.2 },
    }
    const [digits, needle] = compare([propeller, quick]).options
    expect(needle!.table[1]!.delayS! - digits!.table[1]!.delayS!).toBeCloseTo(0.2, 12)
    // 1 rpm of 1000 turns a mile is 0.06 mph.
    expect(needle!.table[1]!.resolutionMPerS).toBeCloseTo((0.06 * MILE_M) / 3600, 12)
  })
  // Until 2026-11 the step of the motor alone counted: 0.06 mph, and the needle led over digits of 1 km/h by it.
  test('resolves no more than its needle can be read: ± 1 km/h is like a step of 2 km/h (a step of d means ± d/2)', () => {
    const { options, leaders } = compare([head, propeller])
    expect(options[0]!.table[1]!.resolutionMPerS).toBeCloseTo(2 * KMH, 12)
    expect(options[1]!.table[1]!.resolutionMPerS).toBeCloseTo(KMH, 12)
    const finest = leaders.filter(({ criterion }) => criterion === 'finest-resolution')
    expect(finest.length).toBeGreaterThan(0)
    for (const { option } of finest) expect(option).toBe(1)
    // A large dial read to ± 0.2 km/h leads.
    const large = compare([
      { ...head, head: { ...head.head, readingUncertaintyMPerS: 0.2 * KMH } },
      propeller,
    ])
    expect(large.options[0]!.table[1]!.resolutionMPerS).toBeCloseTo(0.4 * KMH, 12)
    expect(large.leaders.filter(({ criterion }) => criterion === 'finest-resolution')[0]!.option).toBe(0)
  })
  test('an uncertain head constant enters the error in full', () => {
    const certain = { uncertaintyPercent: 0, readingUncertaintyMPerS: 0 }
    const constantPerM = uncertain(1000 / MILE_M, 'head: constant', 10 / MILE_M)
    const known = { ...head, head: { ...head.head, ...certain }, motor: { stepPerS: 0 } }
    const sure = one(known).table[1]!.errorMPerS!
    const unsure = one({ ...known, head: { ...certain, constantPerM } })
    const more = Math.sqrt(plusMinus(unsure.table[1]!.errorMPerS!) ** 2 - plusMinus(sure) ** 2)
    expect(more / (50 * KMH)).toBeCloseTo(0.02, 9)
  })
  test('keeps the odometer, unlike digits alone', () => {
    expect(one(head).odometer.continues).toBe(true)
    expect(one(propeller).odometer.continues).toBe(false)
    expect(one({ ...propeller, oldDriveStays: true }).odometer.continues).toBe(true)
  })
  test('has no reading in a tunnel if a satellite receiver controls it', () => {
    expect(one({ ...head, signal: satellite }).tunnels.works).toBe(false)
    expect(one(head).tunnels.works).toBe(true)
  })
})

describe('bends', () => {
  test('one shaft deviates by track/(2 R): 7 % at 10 m with 1.4 m; mean of two, propeller shaft and satellite do not', () => {
    const bends = (option: PickUpOption) => one(option, { bendRadiiM: [10] }).bends[0]!
    expect(bends(ring).outerPercent.value).toBeCloseTo(7, 12)
    expect(bends(ring).innerPercent.value).toBeCloseTo(-7, 12)
    for (const option of [{ ...ring, wheels: 'both' } as const, propeller, sensor, satellite, head]) {
      expect(bends(option).outerPercent.value).toBe(0)
    }
    expect(bends({ ...head, signal: ring }).outerPercent.value).toBeCloseTo(7, 12)
  })
  test('an unmeasured track width is assumed only if it matters, and listed', () => {
    const fields = (option: PickUpOption) =>
      comparePickUps(
        { tire, finalDrive: exact(3.7), speedsMPerS: [10], options: [option] },
        builtInSizes,
      ).assumptions.map(({ field }) => field)
    expect(fields(ring)).toContain('/trackWidth')
    expect(fields(propeller)).not.toContain('/trackWidth')
  })
})

describe('satellite', () => {
  test('delay is latency, half a fix and half an update: 0.5 + 0.1 + 0.125 s', () => {
    for (const row of one(satellite).table) expect(row.delayS).toBeCloseTo(0.725, 12)
  })
  test('a faster receiver never lags more', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.5, max: 10, noNaN: true }), (rateHz) => {
        const [slow, fast] = compare([
          { kind: 'satellite', rateHz },
          { kind: 'satellite', rateHz: rateHz * 2 },
        ]).options
        expect(fast!.table[1]!.delayS).toBeLessThan(slow!.table[1]!.delayS!)
      }),
    )
  })
  test('its error is 0.2 m/s at 95 % and does not grow with the tire’s uncertainty', () => {
    const sized = { tire: { size: '185/70R14' } }
    const level = { ...satellite, steepestSlopePercent: 0 }
    const row = one(level, { ...sized, display: { stepMPerS: 0 } }).table[2]!
    expect(plusMinus(row.errorMPerS!)).toBeCloseTo(0.2, 12)
    expect(row.errorBudget!.map(({ input, standing }) => [input, standing])).toEqual([
      ['satellite: speed', 'published'],
    ])
  })
  test('under-reads on slopes up to 6 % by half of 0.18 % on average', () => {
    const error = one(satellite).table[2]!.errorMPerS!
    expect(error.value / (120 * KMH)).toBeCloseTo(-(1 - 1 / Math.hypot(1, 0.06)) / 2, 12)
  })
  test('shows nothing before the first fix', () => {
    const { start, coldStartS, table } = one({ ...satellite, coldStartS: 33 })
    expect(start.works).toBe(false)
    expect(coldStartS).toBe(33)
    expect(table[0]!.timeToFirstReadingS).toBe(33)
  })
})

describe('error budget', () => {
  const bare = { pitchErrorPercent: 0, eccentricityPercent: 0 }
  test('with the tire alone it is the uncertainty of the tire', () => {
    const given = {
      rollingCircumferenceM: uncertain(1.885, 'tire: rolling circumference', 1.885 * 0.005),
    }
    const row = one(
      { ...ring, ...bare },
      { tire: given, maxSlipPercent: 0, display: { stepMPerS: 0, timerTickS: 1e-12 } },
    ).table[2]!
    expect(plusMinus(row.errorMPerS!) / (120 * KMH)).toBeCloseTo(0.01, 9)
    // The only other input is a tick of a picosecond.
    expect(row.errorBudget![0]!.sharePercent).toBeGreaterThan(99.999_999)
    expect(row.errorBudget![0]).toMatchObject({ input: 'tire: rolling circumference', standing: 'measured' })
  })
  test('shares add up to 100 % and each line says how well it is known', () => {
    const { options } = compare([ring, propeller, sensor, satellite, head], {
      tire: { size: '185/70R14' },
    })
    for (const { table } of options) {
      for (const { errorBudget } of table) {
        const total = errorBudget!.reduce((sum, { sharePercent }) => sum + sharePercent, 0)
        expect(total).toBeCloseTo(100, 9)
      }
    }
    const standings = new Map(
      options[0]!.table[2]!.errorBudget!.map(({ input, standing }) => [input, standing]),
    )
    expect(standings.get('tire: rolling factor')).toBe('from-memory')
    expect(standings.get('tire: slip of the driven wheels')).toBe('common-practice')
    expect(standings.get('display: step')).toBe('derived')
  })
  test('a value given by the caller is not an assumption', () => {
    const { assumptions, table } = one({ ...ring, pitchErrorPercent: 3 }, { speedsMPerS: [5 * KMH] })
    expect(assumptions.map(({ field }) => field)).toEqual(['/options/0/eccentricityPercent'])
    const line = table[0]!.errorBudget!.find(({ input }) => input === 'ring: positions of the teeth')
    expect(line?.standing).toBe('measured')
  })
  test('driven wheels over-read by half of the maximum slip, free wheels do not', () => {
    expect(one(ring).table[2]!.errorMPerS!.value / (120 * KMH)).toBeCloseTo(0.005, 12)
    expect(one({ ...ring, axle: 'free' }).table[2]!.errorMPerS!.value).toBe(0)
  })
})

describe('each line of the budget, alone', () => {
  const quiet = { pitchErrorPercent: 0, eccentricityPercent: 0 }
  /** Contribution of an input at 95 %, over the speed of 50 km/h. */
  const line = (option: PickUpOption, input: string, more: Partial<ComparisonRequest> = {}) =>
    one(option, more).table[1]!.errorBudget!.find((entry) => entry.input === input)!.plusMinusMPerS

  test('a step is uniform: step/sqrt 12, doubled, for digits, timer and motor', () => {
    const display = { stepMPerS: 2 * KMH, updateS: 1e-3, timerTickS: 1e-4 }
    expect(line({ ...ring, ...quiet }, 'display: step', { display })).toBeCloseTo(
      (2 * 2 * KMH) / Math.sqrt(12),
      12,
    )
    // One period of f = K v: relative step f x tick.
    const f = (8 / 1.885) * 50 * KMH
    expect(line({ ...ring, ...quiet }, 'timer: tick', { display })).toBeCloseTo(
      (2 * 50 * KMH * f * 1e-4) / Math.sqrt(12),
      12,
    )
    expect(line(head, 'motor: step')).toBeCloseTo((2 * (1 / 60)) / (1000 / MILE_M) / Math.sqrt(12), 12)
  })
  test('slip from none to 1 % is uniform about a half', () => {
    expect(line({ ...ring, ...quiet }, 'tire: slip of the driven wheels')).toBeCloseTo(
      (2 * 0.005 * 50 * KMH) / Math.sqrt(3),
      12,
    )
  })
  test('needle and head contribute exactly the given uncertainty', () => {
    const uncertainties = { readingUncertaintyMPerS: 3 * KMH, uncertaintyPercent: 4 }
    const given = { ...head, head: { ...head.head, ...uncertainties } }
    expect(line(given, 'head: reading the needle')).toBeCloseTo(3 * KMH, 12)
    expect(line(given, 'head: error of the head')).toBeCloseTo(0.04 * 50 * KMH, 12)
  })
})

describe('times', () => {
  test('to the first reading: two pulses at the speed', () => {
    expect(one(ring).table[1]!.timeToFirstReadingS).toBeCloseTo(2 / ((8 / 1.885) * 50 * KMH), 12)
  })
  test('to zero: the time-out, or latency and one fix; half an update on top', () => {
    const display = { updateS: 0.4, zeroTimeoutS: 0.8 }
    expect(one(ring, { display }).timeToZeroS).toBeCloseTo(1, 12)
    expect(one({ ...satellite, latencyS: 0.3 }, { display }).timeToZeroS).toBeCloseTo(0.3 + 0.2 + 0.2, 12)
    expect(one({ ...head, motor: { lagS: 0.2, updateS: 0.1 } }, { display }).timeToZeroS).toBeCloseTo(
      1.05,
      12,
    )
  })
})

describe('properties', () => {
  const pulses = fc.integer({ min: 1, max: 60 })
  test('more pulses per turn: a lower lowest speed, a shorter distance to the first reading', () => {
    fc.assert(
      fc.property(pulses, pulses, (n, more) => {
        const [few, many] = compare([
          { kind: 'shaft-ring', pulsesPerTurn: n },
          { kind: 'shaft-ring', pulsesPerTurn: n + more },
        ]).options
        expect(many!.lowestSpeedMPerS.value).toBeLessThan(few!.lowestSpeedMPerS.value)
        expect(many!.firstReadingM!.value).toBeLessThan(few!.firstReadingM!.value)
      }),
    )
  })
  test('no option is better than the leader', () => {
    const { leaders, options } = compare([ring, propeller, sensor, satellite, head])
    for (const { criterion, option, speedMPerS } of leaders) {
      if (criterion !== 'shortest-delay') continue
      const row = options[0]!.table.findIndex((one) => one.speedMPerS === speedMPerS)
      const delays = options.flatMap(({ table }) => table[row]!.delayS ?? [])
      expect(options[option]!.table[row]!.delayS).toBe(Math.min(...delays))
    }
    for (const { criterion, option, speedMPerS } of leaders) {
      if (criterion !== 'smallest-error') continue
      const row = options[0]!.table.findIndex((one) => one.speedMPerS === speedMPerS)
      const worst = options.map(({ table }) => {
        const error = table[row]!.errorMPerS
        return error === undefined ? Number.POSITIVE_INFINITY : Math.hypot(error.value, plusMinus(error) / 2)
      })
      expect(worst[option]).toBe(Math.min(...worst))
    }
    expect(leaders.filter(({ criterion }) => criterion === 'lowest-speed')).toHaveLength(1)
    expect(leaders).toHaveLength(1 + 3 * 3)
  })
})
