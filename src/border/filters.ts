import { withPointer } from '../domain/errors.js'
import { checkedFilter, type Filter } from '../domain/signals/filter.js'
import type { FilterShape } from '../schemas/filters.js'

/** The filter at `pointer` of the request, checked. */
export function filterAt(pointer: string, wire: FilterShape): Filter {
  return withPointer(pointer, () => checkedFilter(wire))
}
