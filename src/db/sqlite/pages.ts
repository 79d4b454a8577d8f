import type { Page, PageRequest } from '../store/common.js'

/**
 * A page out of rows of which one more than the limit was read: the one more tells that others follow.
 *
 * @param position - Where an item stands in the list, for the next request
 */
export function pageOf<Row, Item>(
  rows: readonly Row[],
  { limit }: PageRequest,
  itemOf: (row: Row) => Item,
  position: (row: Row) => string,
): Page<Item> {
  const shown = rows.slice(0, limit)
  const items = shown.map(itemOf)
  return rows.length > limit ? { items, next: position(shown.at(-1)!) } : { items }
}
