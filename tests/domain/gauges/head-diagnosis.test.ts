import { describe, expect, test } from 'vitest'
import { diagnoseHead } from '../../../src/domain/gauges/head-diagnosis.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'

const MPH = 0.44704
const scale = (value: number, u = 0.004) => uncertain(value, 'speed', u)
const distance = (value: number, u = 0.003) => uncertain(value, 'distance', u)
const diagnose = (
  speed: number,
  record: number | undefined,
  offset = exact(0),
  input: 'turns' | 'pulses' = 'turns',
) =>
  diagnoseHead({
    scale: scale(speed),
    offsetMPerS: offset,
    lowestMPerS: 20 * MPH,
    highestMPerS: 60 * MPH,
    input,
    ...(record === undefined ? {} : { odometerPerTrue: distance(record) }),
  })
const codes = (...args: Parameters<typeof diagnose>) => diagnose(...args).findings.map(({ code }) => code)

// US War Department TM 9-1829A (1944): a head right in distance and wrong in speed has its fault in spring or magnet.
describe('TM 9-1829A: ratio or head', () => {
  test.each([
    ['wrong in both by as much: the ratio', 1.08, 1.08, 'ratio'],
    ['right in distance, wrong in speed: the head', 1.08, 1.0, 'head'],
    ['wrong in both, not by as much: both', 1.12, 1.05, 'ratio-and-head'],
    ['speed right by chance over a wrong ratio: both', 1.0, 1.06, 'ratio-and-head'],
    ['right in both: none', 1.001, 0.999, 'none'],
  ] as const)('%s', (_, speed, record, fault) => expect(diagnose(speed, record).fault).toBe(fault))

  test('an offset is a fault of the head, whatever the ratio', () => {
    const shown = diagnose(1, 1, uncertain(2 * MPH, 'offset', 0.2 * MPH))
    expect(shown.fault).toBe('head')
    expect(shown.findings.map(({ code }) => code)).toEqual(['low-end-off'])
    expect(shown.findings[0]!.text).toMatch(/2\.0 mph over at every speed.*regulator/)
  })
  test('one coil is 6 mph at the high end: 9 mph over at 60 takes 1.5 coils', () => {
    const found = diagnose(1.15, 1).findings.find(({ code }) => code === 'spring-or-magnet-high')
    expect(found?.text).toContain('1.5 coils')
  })
  test('never more than three coils: 24 mph over is too much for the spring', () => {
    expect(codes(1.4, 1)).toContain('beyond-the-spring')
  })
  test('under-reading with a right odometer means magnet or spring, with a caution', () => {
    expect(codes(0.9, 1)).toEqual(['spring-or-magnet-low'])
  })
  test('a head that takes pulses has no spring', () => {
    expect(codes(1.1, 1, exact(0), 'pulses')).toEqual(['display-scale-off'])
  })
})

describe('inconclusive readings give no verdict', () => {
  test('no distance check: a finding requests one', () => {
    expect(diagnose(1.08, undefined).fault).toBe('not-distinguishable')
    expect(codes(1.08, undefined)).toEqual(['distance-check-wanted'])
  })
  test('a distance check with an uncertainty of 8 % is inconclusive', () => {
    const found = diagnoseHead({
      scale: scale(1.08),
      offsetMPerS: exact(0),
      odometerPerTrue: distance(1.04, 0.04),
      lowestMPerS: 10,
      highestMPerS: 25,
    })
    expect(found.fault).toBe('not-distinguishable')
    expect(found.findings.map(({ code }) => code)).toContain('distance-check-too-short')
  })
  test('head scale is speed error over distance error: 1.10/1.05', () => {
    expect(diagnose(1.1, 1.05).headScale!.value).toBeCloseTo(1.1 / 1.05, 12)
  })
})

// Wrong until 2026-11: each text on scale or offset ignored the other.
describe('scale and offset together: the texts state the total error', () => {
  const KMH = 1 / 3.6
  const texts = (b: number, a: number, rest: object = {}) =>
    diagnoseHead({
      scale: scale(b),
      offsetMPerS: uncertain(a * KMH, 'offset', 0.1 * KMH),
      unit: 'kmh',
      lowestMPerS: 40 * KMH,
      highestMPerS: 120 * KMH,
      ...rest,
    }).findings.map(({ text }) => text)

  test('b = 0.95, a = +4 km/h is 2.0 over at 40 and 2.0 under at 120; it was "the same 2.5 mph too much at every speed"', () => {
    // 0.95 x 40 + 4 = 42.0; 0.95 x 120 + 4 = 118.0
    const [offset] = texts(0.95, 4)
    expect(offset).toContain('4.0 km/h over')
    expect(offset).toContain(
      '2.0 km/h over at a true speed of 40.0 km/h, 2.0 km/h under at a true speed of 120.0 km/h',
    )
    expect(offset).not.toContain('every speed')
  })
  test('b = 1.05, a = -4 km/h is 6.0 km/h by the scale at 120, 2.0 with the offset; it was "4.0 mph over"', () => {
    const spring = texts(1.05, -4, { odometerPerTrue: distance(1) }).find((text) =>
      text.includes('hairspring is'),
    )
    expect(spring).toContain(
      'over-reads by 5.0 %: 6.0 km/h at the highest speed read, and with its offset 2.0 km/h over',
    )
  })
  test('b = 0.95, a = +8 km/h over-reads everywhere: no caution about under-reading', () => {
    // 0.95 x 120 + 8 = 122
    const low = texts(0.95, 8, { odometerPerTrue: distance(1) }).find((text) => text.includes('weak magnet'))
    expect(low).toContain('with its offset 2.0 km/h over')
    expect(low).not.toContain('Do not rely on')
  })
  test("the head's own error is stated at the speed of its drive if that is 5 % too fast", () => {
    // H = 1.155/1.05 = 1.1; 0.1 x 1.05 x 120 km/h = 12.6 km/h, 1.3 coils of 6 mph (9.656 km/h).
    const spring = texts(1.155, 0, { odometerPerTrue: distance(1.05) }).find((text) => text.includes('coils'))
    expect(spring).toContain('over-reads by 10.0 %: 12.6 km/h')
    expect(spring).toContain('1.3 coils')
  })
})

// Wrong until 2026-11: a bench was treated like a road, and a finding requested the odometer to distinguish a ratio that a bench does not have.
describe('on a bench, without the ratio of the car', () => {
  const bench = (b: number, record?: number, input: 'turns' | 'pulses' = 'turns') =>
    diagnoseHead({
      scale: scale(b),
      offsetMPerS: exact(0),
      on: 'bench',
      input,
      lowestMPerS: 20 * MPH,
      highestMPerS: 60 * MPH,
      ...(record === undefined ? {} : { odometerPerTrue: distance(record) }),
    })

  test('a wrong speed means the head, without a distance check', () => {
    const found = bench(1.08)
    expect(found).toMatchObject({ fault: 'head', correctBy: 'speed' })
    expect(found.headScale!.value).toBeCloseTo(1.08, 12)
    expect(found.findings.map(({ code }) => code)).toEqual(['spring-or-magnet-high'])
    expect(found.findings.map(({ text }) => text).join(' ')).not.toMatch(/ratio|odometer/)
    expect(bench(1.08, undefined, 'pulses').findings.map(({ code }) => code)).toEqual(['display-scale-off'])
  })
  test('a right speed means no fault', () => expect(bench(1.001).fault).toBe('none'))
  test('an odometer error means the constant, not a ratio of the car', () => {
    const found = bench(1.08, 1.08)
    expect(found.fault).toBe('head')
    expect(found.findings.map(({ code }) => code)).toEqual(['constant-off'])
  })
})

// Wrong until 2026-11: "correct by that factor, not by the error of the speed", and the number suggested was by the speed.
describe('by which error to correct', () => {
  const correctBy = (b: number, u: number, record: number, uRecord: number) =>
    diagnoseHead({
      scale: scale(b, u),
      offsetMPerS: exact(0),
      odometerPerTrue: distance(record, uRecord),
      lowestMPerS: 10,
      highestMPerS: 25,
    })
  test('a wrong ratio with a right head: by the estimate with less uncertainty, as the text says', () => {
    const byRecord = correctBy(1.08, 0.008, 1.079, 0.002)
    expect(byRecord).toMatchObject({ fault: 'ratio', correctBy: 'distance' })
    expect(byRecord.findings[0]!.text).toContain('by this error, not by that of the speed')
    const bySpeed = correctBy(1.08, 0.002, 1.079, 0.008)
    expect(bySpeed).toMatchObject({ fault: 'ratio', correctBy: 'speed' })
    expect(bySpeed.findings[0]!.text).toContain('by the error of the speed, which agrees with it')
  })
  test('a wrong head: by the odometer, whatever the uncertainty of the speed', () => {
    expect(correctBy(1.12, 0.001, 1.05, 0.008)).toMatchObject({
      fault: 'ratio-and-head',
      correctBy: 'distance',
    })
  })
})
