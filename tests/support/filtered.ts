import type { Filter } from '../../src/domain/signals/filter.js'
import { FilterRun } from '../../src/domain/signals/filter-run.js'

/** Readings after a filter, one for each. */
export function filtered(filter: Filter, readings: readonly number[], start?: number): number[] {
  const run = new FilterRun(filter, start)
  return readings.map((reading) => run.push(reading))
}
