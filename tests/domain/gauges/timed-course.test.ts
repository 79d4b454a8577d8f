import { describe, expect, test } from 'vitest'
import { timedCourse } from '../../../src/domain/gauges/timed-course.js'
import { exact, type Figure, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const MILE_M = 1609.344
const MPH = 0.44704

/** A course of that length, driven at 30 m/s by the dial; a time without uncertainty is timed by hand. */
const timed = (distanceM: Figure, timesS: readonly number[], uTimeS = 0) =>
  timedCourse({
    distanceM,
    timesS: timesS.map((timeS) => uncertain(timeS, 'time', uTimeS)),
    indicatedMPerS: exact(30),
  })

describe('timedCourse', () => {
  test('a mile in 60 s is 60 mph, by definition', () => {
    expect(timed(exact(MILE_M), [60], 0.1).trueMPerS.value / MPH).toBeCloseTo(60, 9)
  })
  // JCGM 100:2008, 5.1.6: relative uncertainties of a quotient add in quadrature.
  test('u(v)/v = sqrt((u_d/d)² + (u_t/t)²): 0.1 % and 0.25 % give 0.2693 %', () => {
    const { trueMPerS } = timed(uncertain(1000, 'd', 1), [40], 0.1)
    expect(plusMinus(trueMPerS) / 2 / trueMPerS.value).toBeCloseTo(Math.hypot(0.001, 0.0025), 12)
  })
  test('four runs halve the uncertainty of the times, not that of the course', () => {
    const { trueMPerS } = timed(uncertain(1000, 'd', 1), [39.9, 40.1, 40, 40], 0.1)
    expect(plusMinus(trueMPerS) / 2 / trueMPerS.value).toBeCloseTo(Math.hypot(0.001, 0.00125), 12)
  })
  test('times without uncertainty count as hand-timed, 0.2 s at 95 %', () => {
    const course = timed(exact(1000), [40])
    expect(plusMinus(course.timeS)).toBeCloseTo(0.2, 12)
    expect(course.notes.map(({ code }) => code)).toContain('hand-timing-assumed')
  })
  test('times that differ by seconds contradict an uncertainty of 0.1 s', () => {
    const course = timed(exact(1000), [38, 42, 40], 0.1)
    // Plain mean of three: s = 2, u = 2/sqrt 3, t95(2) = 4.303 (GUM table G.2: 4.30).
    expect(plusMinus(course.timeS)).toBeCloseTo((4.302652729911275 * 2) / Math.sqrt(3), 5)
    expect(course.notes.map(({ code }) => code)).toContain('scatter-exceeds-uncertainty')
  })
  // Until 2026-11 the run that was flagged stood in the only answer: 60.28 ± 2.44 mph, and nothing beside it.
  test('an outlying run is flagged, and the result without it is given beside the mean of all', () => {
    const { trueMPerS, outliers, withoutOutliers, notes } = timed(exact(MILE_M), [59.1, 58.8, 62, 59])
    expect(outliers).toEqual([2])
    // Miles an hour from the mean time: 4·3600/238.9 and 3·3600/176.9.
    expect(trueMPerS.value / MPH).toBeCloseTo(14_400 / 238.9, 9)
    expect(withoutOutliers!.trueMPerS.value / MPH).toBeCloseTo(10_800 / 176.9, 9)
    expect(plusMinus(withoutOutliers!.trueMPerS) / MPH).toBeLessThan(0.5)
    expect(notes.find(({ code }) => code === 'outlying-run')!.text).toContain('Time 3 (62 s) is an outlier')
  })
  test('without outliers only the mean is given', () => {
    const course = timed(exact(MILE_M), [58.4, 58.9, 58.6, 58.7])
    expect(course).not.toHaveProperty('withoutOutliers')
    expect(course.notes.map(({ code }) => code)).not.toContain('outlying-run')
  })
  test('an impossible speed is rejected', () => {
    expect(() => timed(exact(1000), [1], 0.1)).toThrow(expect.objectContaining({ code: 'out-of-range' }))
  })
  test('a course too short to judge a dial carries a caution', () => {
    expect(timed(exact(50), [3], 0.1).notes.map(({ code }) => code)).toContain('course-too-short')
  })
})
