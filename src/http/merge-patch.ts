/** Media type of merge patches (RFC 7396, 4). */
export const MERGE_PATCH = 'application/merge-patch+json'

const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value)

/** What a merge patch makes of a value (RFC 7396): null takes a field away, an object merges, all else replaces. */
export function mergePatch(target: unknown, patch: unknown): unknown {
  if (!isObject(patch)) return patch
  const merged = new Map(Object.entries(isObject(target) ? target : {}))
  for (const [key, value] of Object.entries(patch)) {
    if (value === null) merged.delete(key)
    else merged.set(key, mergePatch(merged.get(key), value))
  }
  return Object.fromEntries(merged)
}
