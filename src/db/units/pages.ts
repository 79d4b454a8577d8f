import type { Page, PageRequest } from '../store/common.js'

/**
 * Makes a page from up to one row more than the limit: an extra row means that more follow.
 *
 * @param position - Position of an item in the list, for the next request
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
