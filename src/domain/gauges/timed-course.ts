import { DomainError, withPointer } from '../errors.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { COVERAGE_FACTOR, type Figure, uncertain } from '../measure/figure.js'
import { fitProportional } from '../measure/line-fit.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { quotient } from '../measure/propagation.js'
import { outlierIndexes } from '../measure/readings.js'
import type { SourceId } from '../measure/sources.js'
import { plusMinus, standardUncertainty } from '../measure/uncertainty.js'
import { fromSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'

export interface TimedCourseRequest {
  /** Length of the course. */
  readonly distanceM: Figure
  /** Times over it at one steady indicated speed. */
  readonly timesS: readonly Figure[]
  readonly indicatedMPerS: Figure
}

/** A speed in the form of a request. */
interface ReadingSpeed {
  readonly kmh: number
  readonly plusMinus: number
}

/** What runs over the course give. */
export interface CourseSpeed {
  readonly trueMPerS: Figure
  /** Indicated less true speed, with its expanded uncertainty. */
  readonly errorMPerS: { readonly value: number; readonly plusMinus: number }
  readonly errorPercent: number
  /** Mean of the times. */
  readonly timeS: Figure
  readonly reading: { readonly indicated: ReadingSpeed; readonly true: ReadingSpeed }
}

export interface TimedCourse extends CourseSpeed {
  readonly indicatedMPerS: Figure
  readonly outliers: readonly number[]
  /** Of the true speed. */
  readonly budget: readonly BudgetLine[]
  /** Result of the other runs; absent without outliers. */
  readonly withoutOutliers?: CourseSpeed
  readonly sources: readonly SourceId[]
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

const SAFETY: Note = cautionNote(
  'timed-course-safety',
  'Drive a timed course only where it is allowed and safe, with a second person to time and read the dial; drive it in both directions.',
)

interface Mean {
  readonly timeS: Figure
  readonly trueMPerS: Figure
  readonly scatterExceedsUncertainty: boolean
}

const isHandTimed = (timeS: Figure) => standardUncertainty(timeS) === 0

function meanOf(distanceM: Figure, timesS: readonly Figure[]): Mean {
  const line = fitProportional(
    timesS.map((timeS) => ({
      x: 1,
      y: timeS.value,
      ux: 0,
      uy: isHandTimed(timeS) ? HAND_TIMING_S : standardUncertainty(timeS),
    })),
  )
  const timeS = uncertain(line.slope, 'time over the course', line.uSlope * line.widening)
  return {
    timeS,
    trueMPerS: quotient(distanceM, timeS),
    scatterExceedsUncertainty: line.scatterExceedsUncertainty,
  }
}

function checkSpeed(distanceM: Figure, { timeS, trueMPerS }: Mean): void {
  if (trueMPerS.value >= SLOWEST_M_PER_S && trueMPerS.value <= FASTEST_M_PER_S) return
  throw new DomainError(
    'out-of-range',
    `times: ${distanceM.value} m in ${timeS.value} s is ${trueMPerS.value} m/s, which is no speed of a car; expected ${SLOWEST_M_PER_S} to ${FASTEST_M_PER_S} m/s`,
    {},
  )
}

function notesOf(
  { trueMPerS, scatterExceedsUncertainty }: Mean,
  timesS: readonly Figure[],
  outliers: readonly number[],
): Note[] {
  const notes: Note[] = []
  if (plusMinus(trueMPerS) > USABLE_UNCERTAINTY * trueMPerS.value) {
    notes.push(
      cautionNote(
        'course-too-short',
        'The uncertainty of the true speed is more than 2 %, too much to judge a speedometer: use a longer course or more runs.',
      ),
    )
  }
  if (timesS.some(isHandTimed)) {
    notes.push(
      infoNote(
        'hand-timing-assumed',
        'Times without plusMinus are assumed to be timed by hand: ± 0.2 s, common practice without a source.',
      ),
    )
  }
  if (scatterExceedsUncertainty) {
    notes.push(
      cautionNote(
        'scatter-exceeds-uncertainty',
        'The times differ by more than their uncertainties allow: the speed was not steady, or a mark was missed. The uncertainty is taken from the scatter.',
      ),
    )
  }
  if (outliers.length > 0) {
    const which = outliers.map((index) => `${index + 1} (${timesS[index]!.value} s)`).join(', ')
    const one = outliers.length === 1
    notes.push(
      cautionNote(
        'outlying-run',
        `${one ? 'Time' : 'Times'} ${which} ${one ? 'is an outlier' : 'are outliers'}: a mark was missed, the speed was not steady, or the watch was late. If there is a known reason, use withoutOutliers; otherwise drive the course again.`,
      ),
    )
  }
  return [...notes, SAFETY]
}

const inKmh = (figure: Figure): ReadingSpeed => ({
  kmh: fromSi('speed', 'kmh', figure.value),
  plusMinus: fromSi('speed', 'kmh', plusMinus(figure)),
})

/** Error of a dial that showed `indicatedMPerS` over the course. */
function courseSpeed({ timeS, trueMPerS }: Mean, indicatedMPerS: Figure): CourseSpeed {
  const error = indicatedMPerS.value - trueMPerS.value
  const uncertainty =
    COVERAGE_FACTOR * Math.hypot(standardUncertainty(indicatedMPerS), standardUncertainty(trueMPerS))
  return {
    trueMPerS,
    errorMPerS: { value: error, plusMinus: uncertainty },
    errorPercent: (100 * error) / trueMPerS.value,
    timeS,
    reading: { indicated: inKmh(indicatedMPerS), true: inKmh(trueMPerS) },
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
 * @param request - Length of the course [m, > 0], times over it at one steady indicated speed [s], at least one, and that speed [m/s]
 * @returns Mean time [s], true speed and error of the dial [m/s], outliers by index, and the same without these
 * @throws {DomainError} `out-of-range` for an impossible speed of a car, `did-not-converge`, `not-finite`
 * @see JCGM 100:2008, 5.1.6; hand timing: common practice, no source
 * @example timedCourse({ distanceM: exact(1609.344), timesS: [uncertain(60, 'time', 0.1)], indicatedMPerS: exact(30) }).trueMPerS.value / 0.44704 // 60 ± 1e-9
 */
export function timedCourse(request: TimedCourseRequest): TimedCourse {
  const { distanceM, timesS, indicatedMPerS } = request
  const mean = withPointer('/times', () => {
    const all = meanOf(distanceM, timesS)
    checkSpeed(distanceM, all)
    return all
  })
  const outliers = outlierIndexes(
    timesS.map(({ value }) => value),
    AGREEMENT * mean.timeS.value,
  )
  const sources: SourceId[] = ['definitions', 'gum', 'caller-reading']
  if (timesS.some(isHandTimed)) sources.push('hand-timing')
  const course: Mutable<TimedCourse> = Object.assign(courseSpeed(mean, indicatedMPerS), {
    indicatedMPerS,
    outliers,
    budget: budget(mean.trueMPerS),
    sources,
    notes: notesOf(mean, timesS, outliers),
  })
  if (outliers.length > 0) {
    const others = timesS.filter((_, index) => !outliers.includes(index))
    course.withoutOutliers = courseSpeed(
      withPointer('/times', () => meanOf(distanceM, others)),
      indicatedMPerS,
    )
  }
  return course
}
