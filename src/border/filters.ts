import { at } from '../domain/errors.js'
import { checkedFilter, type Filter } from '../domain/signals/filter.js'
import type { FilterShape } from '../schemas/filters.js'

/** The filter that stands at `pointer` in the request. */
export function filterAt(pointer: string, wire: FilterShape): Filter {
  return at(pointer, () => checkedFilter(wire))
}

/** A filter as an answer shows it. */
export function filterOut({ median, movingAverage, factor }: Filter): FilterShape {
  const out: FilterShape = {}
  if (median !== undefined) out.median = median
  if (movingAverage !== undefined) out.movingAverage = movingAverage
  if (factor !== undefined) out.factor = factor
  return out
}
