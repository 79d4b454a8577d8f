import { DomainError } from '../errors.js'
import { type Figure, plusMinus, quotient, uncertain } from '../measure/figure.js'
import { fitProportional } from '../measure/line-fit.js'
import type { Note } from '../measure/notes.js'
import { outlierIndexes } from '../measure/readings.js'
import type { Mutable } from '../mutable.js'

/** A time with its standard uncertainty; zero: not given. */
export interface TimedRun {
  readonly timeS: number
  readonly uTimeS: number
}

/** Mean time over the course and the true speed. */
export interface CourseSpeed {
  readonly timeS: Figure
  readonly trueMPerS: Figure
}

export interface TimedCourse extends CourseSpeed {
  readonly outliers: readonly number[]
  /** Result of the other runs; absent without outliers. */
  readonly withoutOutliers?: CourseSpeed
  readonly assumedHandTiming: boolean
  readonly notes: readonly Note[]
}

/** Standard uncertainty of one hand-timed run: start and stop each good to about 0.1 s at 95 %, by common practice. [s] */
const HAND_TIMING_S = 0.1

/** Speeds of cars. [m/s] */
const SLOWEST_M_PER_S = 0.01
const FASTEST_M_PER_S = 280

/** Maximum uncertainty of a true speed that is useful for judging a dial, as a fraction (95 %). */
const USABLE_UNCERTAINTY = 0.02

/** Runs that agree within this fraction are never outliers. */
const AGREEMENT = 1e-3

function meanOf(distanceM: Figure, runs: readonly TimedRun[]) {
  const line = fitProportional(
    runs.map(({ timeS, uTimeS }) => ({ x: 1, y: timeS, ux: 0, uy: uTimeS === 0 ? HAND_TIMING_S : uTimeS })),
  )
  const timeS = uncertain(line.slope, 'time over the course', line.uSlope * line.widening)
  return {
    timeS,
    trueMPerS: quotient(distanceM, timeS),
    scatterExceedsUncertainty: line.scatterExceedsUncertainty,
  }
}

/**
 * True speed over a measured course by stopwatch.
 *
 *     v = d/t      u(v)/v = √( (u_d/d)² + (u_t/t)² )      t: weighted mean of the runs
 *
 * d is the length of the course.
 *
 * The uncertainty of the course is common to all runs; those of the times are independent. Times without uncertainty are assumed to be timed by hand, 0.2 s
 * at 95 %. When the times scatter by more than their uncertainties allow, the scatter decides. An outlier remains in the mean, since only the driver knows
 * whether there was a reason for it; the result without outliers is given beside it.
 *
 * @param distanceM - Length of the course. [m, > 0]
 * @param runs - Times over it at one steady indicated speed, at least one
 * @returns Mean time [s], true speed [m/s], outliers by index, and both without these
 * @throws {DomainError} `out-of-range` for an impossible speed of a car, `did-not-converge`, `not-finite`
 * @see JCGM 100:2008, 5.1.6; hand timing: common practice, no source
 * @example timedCourse(exact(1609.344), [{ timeS: 60, uTimeS: 0.1 }]).trueMPerS.value / 0.44704 // 60 ± 1e-9
 */
export function timedCourse(distanceM: Figure, runs: readonly TimedRun[]): TimedCourse {
  const assumedHandTiming = runs.some(({ uTimeS }) => uTimeS === 0)
  const { timeS, trueMPerS, scatterExceedsUncertainty } = meanOf(distanceM, runs)
  if (!(trueMPerS.value >= SLOWEST_M_PER_S && trueMPerS.value <= FASTEST_M_PER_S)) {
    throw new DomainError(
      'out-of-range',
      `times: ${distanceM.value} m in ${timeS.value} s is ${trueMPerS.value} m/s, which is no speed of a car; expected ${SLOWEST_M_PER_S} to ${FASTEST_M_PER_S} m/s`,
      {},
    )
  }
  const notes: Note[] = []
  if (plusMinus(trueMPerS) > USABLE_UNCERTAINTY * trueMPerS.value) {
    notes.push({
      code: 'course-too-short',
      level: 'caution',
      text: 'The uncertainty of the true speed is more than 2 %, too much to judge a speedometer: use a longer course or more runs.',
    })
  }
  if (assumedHandTiming) {
    notes.push({
      code: 'hand-timing-assumed',
      level: 'info',
      text: 'Times without plusMinus are assumed to be timed by hand: ± 0.2 s, common practice without a source.',
    })
  }
  if (scatterExceedsUncertainty) {
    notes.push({
      code: 'scatter-exceeds-uncertainty',
      level: 'caution',
      text: 'The times differ by more than their uncertainties allow: the speed was not steady, or a mark was missed. The uncertainty is taken from the scatter.',
    })
  }
  const outliers = outlierIndexes(
    runs.map(({ timeS: time }) => time),
    AGREEMENT * timeS.value,
  )
  const course: Mutable<TimedCourse> = { timeS, trueMPerS, outliers, assumedHandTiming, notes }
  if (outliers.length > 0) {
    const others = meanOf(
      distanceM,
      runs.filter((_, index) => !outliers.includes(index)),
    )
    course.withoutOutliers = { timeS: others.timeS, trueMPerS: others.trueMPerS }
    const which = outliers.map((index) => `${index + 1} (${runs[index]!.timeS} s)`).join(', ')
    const one = outliers.length === 1
    notes.push({
      code: 'outlying-run',
      level: 'caution',
      text: `${one ? 'Time' : 'Times'} ${which} ${one ? 'is an outlier' : 'are outliers'}: a mark was missed, the speed was not steady, or the watch was late. If there is a known reason, use withoutOutliers; otherwise drive the course again.`,
    })
  }
  return course
}
