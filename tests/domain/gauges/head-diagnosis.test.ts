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
  takes: 'turns' | 'pulses' = 'turns',
) =>
  diagnoseHead({
    scale: scale(speed),
    offsetMPerS: offset,
    highestMPerS: 60 * MPH,
    takes,
    ...(record === undefined ? {} : { recordedPerTrue: distance(record) }),
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

  test('an offset is the low end of the head, whatever the ratio', () => {
    const shown = diagnose(1, 1, uncertain(2 * MPH, 'offset', 0.2 * MPH))
    expect(shown.fault).toBe('head')
    expect(shown.findings.map(({ code }) => code)).toEqual(['low-end-off'])
    expect(shown.findings[0]!.text).toMatch(/2\.0 mph too much.*regulator/)
  })
  test('one coil is 6 mph at the high end: 9 mph over at 60 asks for 1.5 coils', () => {
    const found = diagnose(1.15, 1).findings.find(({ code }) => code === 'spring-or-magnet-high')
    expect(found?.text).toContain('1.5 coils')
  })
  test('never more than three coils: 24 mph over is beyond the spring', () => {
    expect(codes(1.4, 1)).toContain('beyond-the-spring')
  })
  test('under-reading with a right record is a magnet or spring, with a caution', () => {
    expect(codes(0.9, 1)).toEqual(['spring-or-magnet-low'])
  })
  test('a head that takes pulses has no spring', () => {
    expect(codes(1.1, 1, exact(0), 'pulses')).toEqual(['display-scale-off'])
  })
})

describe('what is not known is not claimed', () => {
  test('no distance check: asks for one', () => {
    expect(diagnose(1.08, undefined).fault).toBe('not-told-apart')
    expect(codes(1.08, undefined)).toEqual(['distance-check-wanted'])
  })
  test('a distance check good to 8 % tells nothing', () => {
    const found = diagnoseHead({
      scale: scale(1.08),
      offsetMPerS: exact(0),
      recordedPerTrue: distance(1.04, 0.04),
      highestMPerS: 25,
    })
    expect(found.fault).toBe('not-told-apart')
    expect(found.findings.map(({ code }) => code)).toContain('distance-check-too-short')
  })
  test('head scale is speed error over distance error: 1.10/1.05', () => {
    expect(diagnose(1.1, 1.05).headScale!.value).toBeCloseTo(1.1 / 1.05, 12)
  })
})
