import { DomainError } from '../errors.js'

/**
 * A filter on successive readings, as firmware runs it: the stages that are set run in this order.
 * At least one is set.
 */
export interface Filter {
  /** Median of the last 3 or 5 readings: it rejects a single bad reading. */
  readonly median?: 3 | 5
  /** Mean of this many last readings; over whole turns of the ring it is free of tooth errors. */
  readonly movingAverage?: number
  /** y += a·(x − y), starting at the first reading. [0 < a <= 1] */
  readonly factor?: number
}

/** Maximum length of a moving average. */
export const LONGEST_MOVING_AVERAGE = 10_000

/** Minimum factor: below it a filter needs more readings to settle than a car gives in its life. */
export const SMALLEST_FACTOR = 1e-9

/**
 * Checks that a filter has a stage and that each stage is in range.
 *
 *     median ∈ {3, 5},  1 ≤ movingAverage ≤ 10 000, whole,  10⁻⁹ ≤ factor ≤ 1;  at least one of them
 *
 * @param filter - Filter from a request
 * @returns The same filter
 * @throws {DomainError} `filter-empty`, `filter-factor-out-of-range`, `out-of-range`, each with the faulty field
 * @see NIST/SEMATECH e-Handbook 6.3.2.4 (0 < lambda <= 1)
 * @example checkedFilter({ factor: 0.25 }).factor // 0.25 ± 0
 * @example checkedFilter({}) // throws filter-empty
 * @example checkedFilter({ factor: 1.5 }) // throws filter-factor-out-of-range
 */
export function checkedFilter(filter: Filter): Filter {
  const { median, movingAverage, factor } = filter
  if (median === undefined && movingAverage === undefined && factor === undefined) {
    throw new DomainError(
      'filter-empty',
      'filter: expected at least one of median, movingAverage, factor; leave the filter out if you want none',
      { pointer: '' },
    )
  }
  if (median !== undefined && median !== 3 && median !== 5) {
    throw new DomainError('out-of-range', `median: expected 3 or 5, got ${median}`, { pointer: '/median' })
  }
  if (
    movingAverage !== undefined &&
    !(Number.isInteger(movingAverage) && movingAverage >= 1 && movingAverage <= LONGEST_MOVING_AVERAGE)
  ) {
    throw new DomainError(
      'out-of-range',
      `movingAverage: expected a whole number from 1 to ${LONGEST_MOVING_AVERAGE}, got ${movingAverage}`,
      { pointer: '/movingAverage', value: movingAverage },
    )
  }
  if (factor !== undefined && !(factor >= SMALLEST_FACTOR && factor <= 1)) {
    throw new DomainError(
      'filter-factor-out-of-range',
      `factor: expected above 0 (at least ${SMALLEST_FACTOR}) and at most 1, got ${factor}; 1 means no smoothing, 0.25 moves a quarter of the way at each reading`,
      { pointer: '/factor', value: factor },
    )
  }
  return filter
}
