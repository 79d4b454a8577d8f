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
  /** What the other runs give; absent without outliers. */
  readonly withoutOutliers?: CourseSpeed
  readonly assumedHandTiming: boolean
  readonly notes: readonly Note[]
}

/** Standard uncertainty of one hand-timed run: start and stop each good to about 0.1 s at 95 %, by common practice. [s] */
const HAND_TIMING_S = 0.1

/** Speeds of cars. [m/s] */
const SLOWEST_M_PER_S = 0.01
const FASTEST_M_PER_S = 280

/** A true speed known worse than this is of little use to judge a dial by, as a fraction (95 %). */
const USABLE_DOUBT = 0.02

/** Runs that agree within this part of them are never outliers. */
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
 * The uncertainty of the course is common to all runs; that of the times is not. Times without uncertainty are taken as timed by hand, 0.2 s at
 * 95 %. When the times scatter more than their uncertainties allow, the scatter decides. A time that does not belong with the others takes part
 * in the mean, since only the driver knows whether there was a reason for it; what the others give stands beside it.
 *
 * @param distanceM - Length of the course. [m, > 0]
 * @param runs - Times over it at one steady indicated speed, at least one
 * @returns Mean time [s], true speed [m/s], outliers by index, and both without these
 * @throws {DomainError} `out-of-range` for a speed that no car does, `did-not-converge`, `not-finite`
 * @see JCGM 100:2008, 5.1.6; hand timing: common practice, no source
 * @example timedCourse(exact(1609.344), [{ timeS: 60, uTimeS: 0.1 }]).trueMPerS.value / 0.44704 // 60 ± 1e-9
 */
export function timedCourse(distanceM: Figure, runs: readonly TimedRun[]): TimedCourse {
  const assumedHandTiming = runs.some(({ uTimeS }) => uTimeS === 0)
  const { timeS, trueMPerS, scatterExceedsUncertainty } = meanOf(distanceM, runs)
  if (!(trueMPerS.value >= SLOWEST_M_PER_S && trueMPerS.value <= FASTEST_M_PER_S)) {
    throw new DomainError(
      'out-of-range',
      `times: ${distanceM.value} m in ${timeS.value} s is ${trueMPerS.value} m/s, which no car does; expected ${SLOWEST_M_PER_S} to ${FASTEST_M_PER_S} m/s`,
      {},
    )
  }
  const notes: Note[] = []
  if (plusMinus(trueMPerS) > USABLE_DOUBT * trueMPerS.value) {
    notes.push({
      code: 'course-too-short',
      level: 'caution',
      text: 'The true speed is known to no better than 2 %, about what a speedometer is to be judged by: take a longer course, or more runs.',
    })
  }
  if (assumedHandTiming) {
    notes.push({
      code: 'hand-timing-assumed',
      level: 'info',
      text: 'Times without plusMinus are taken as timed by hand: 0.2 s either way, common practice without a source.',
    })
  }
  if (scatterExceedsUncertainty) {
    notes.push({
      code: 'scatter-exceeds-uncertainty',
      level: 'caution',
      text: 'The times differ by more than their uncertainties allow: the speed was not held, or a mark was missed. The uncertainty is taken from the scatter.',
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
      text: `${one ? 'Time' : 'Times'} ${which} ${one ? 'does' : 'do'} not belong with the others: a mark was missed, the speed was not held, or the watch was late. With a reason to leave ${one ? 'it' : 'them'} out, take withoutOutliers; without one, drive the course again.`,
    })
  }
  return course
}
