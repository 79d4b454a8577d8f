import { withPointer } from '../domain/errors.js'
import { checkedFilter, type Filter } from '../domain/signals/filter.js'
import type { FilterShape } from '../schemas/filters.js'

/** The filter at `pointer` of the request, checked. */
export function filterAt(pointer: string, wire: FilterShape): Filter {
  return withPointer(pointer, () => checkedFilter(wire))
}

/** A filter in the form of the answer. */
export function filterOut({ median, movingAverage, factor }: Filter): FilterShape {
  const out: FilterShape = {}
  if (median !== undefined) out.median = median
  if (movingAverage !== undefined) out.movingAverage = movingAverage
  if (factor !== undefined) out.factor = factor
  return out
}
