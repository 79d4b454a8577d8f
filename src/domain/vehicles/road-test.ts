import { ROUNDING } from '../drive-paths/judgment.js'
import type { Response } from '../drive-paths/path.js'
import { exact, type Figure } from '../measure/figure.js'
import { propagate, quotient } from '../measure/propagation.js'
import { MILE_M, toSi } from '../measure/units.js'
import type { SpeedUnit } from './vehicle.js'

/** Maximum number of marks in a road test; each is driven twice. */
const MAX_MARKS = 5

/** Below this mark a steady speed is hard to hold; common practice, no source. */
const SLOWEST: Readonly<Record<SpeedUnit, number>> = {
  mph: toSi('speed', 'mph', 20),
  kmh: toSi('speed', 'kmh', 30),
}

/** One mark of the dial to hold on the road, with the expected true speed and time. */
export interface RoadTestMark {
  readonly indicatedToHoldMPerS: number
  readonly trueMPerS: Figure
  /** Time over the measured course. [s] */
  readonly timeS: Figure
}

export interface RoadTest {
  readonly courseM: number
  readonly marks: readonly RoadTestMark[]
}

/**
 * True speed at which a dial shows a mark.
 *
 *     V = (y − a)/b      ∂V/∂b = −V/b,  ∂V/∂a = −1/b
 *
 * @param line - Slope b and offset a of the dial
 * @param indicatedMPerS - y, the mark. [m/s]
 * @returns V with its uncertainty [m/s]; zero or less where the dial shows more than the mark at standstill
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 5.1.2 eq. (10)
 * @example trueWhenShown({ indicatedPerTrue: exact(1.1), offsetMPerS: exact(2) }, 24).value // 20 ± 1e-12
 */
export function trueWhenShown(
  line: Pick<Response, 'indicatedPerTrue' | 'offsetMPerS'>,
  indicatedMPerS: number,
): Figure {
  const { indicatedPerTrue, offsetMPerS } = line
  const trueMPerS = (indicatedMPerS - offsetMPerS.value) / indicatedPerTrue.value
  return propagate(trueMPerS, [
    [indicatedPerTrue, -trueMPerS / indicatedPerTrue.value],
    [offsetMPerS, -1 / indicatedPerTrue.value],
  ])
}

/**
 * A road test to confirm a calculation: marks of the dial to hold, the true speed expected at each, and the time over a measured course.
 *
 *     t = s/V, s one mile or one kilometer by the unit of the dial
 *
 * @param line - Slope and offset of the dial
 * @param unit - Unit of the dial
 * @param marksMPerS - Marks to choose from, ascending; every second one is taken, five at most. Those below 20 mph or 30 km/h are taken only where
 * no higher one can be driven. [m/s]
 * @param topSpeedMPerS - Marks that the dial shows only above it are left out. [m/s]
 * @returns The course [m] and the marks
 * @throws {DomainError} `not-finite`
 * @see definition of speed; choice of marks and course: common practice, no source
 * @example roadTest({ indicatedPerTrue: exact(1), offsetMPerS: exact(0) }, 'mph', [60 * 0.44704]).marks[0].timeS.value // 60 ± 1e-9
 */
export function roadTest(
  line: Pick<Response, 'indicatedPerTrue' | 'offsetMPerS'>,
  unit: SpeedUnit,
  marksMPerS: readonly number[],
  topSpeedMPerS = Number.POSITIVE_INFINITY,
): RoadTest {
  const courseM = unit === 'mph' ? MILE_M : 1000
  const drivable = marksMPerS.flatMap((indicatedMPerS): RoadTestMark[] => {
    const trueMPerS = trueWhenShown(line, indicatedMPerS)
    if (!(trueMPerS.value > 0 && trueMPerS.value <= topSpeedMPerS * (1 + ROUNDING))) return []
    return [{ indicatedToHoldMPerS: indicatedMPerS, trueMPerS, timeS: quotient(exact(courseM), trueMPerS) }]
  })
  const easy = drivable.filter(
    ({ indicatedToHoldMPerS }) => indicatedToHoldMPerS >= SLOWEST[unit] * (1 - ROUNDING),
  )
  const held = easy.length === 0 ? drivable : easy
  const marks = held.length <= 2 ? held : held.filter((_, index) => index % 2 === 0)
  return { courseM, marks: marks.slice(0, MAX_MARKS) }
}
