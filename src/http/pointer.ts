/** One key as a part of a JSON Pointer (RFC 6901, section 3). */
export const pointerPart = (key: string | number) =>
  `/${String(key).replaceAll('~', '~0').replaceAll('/', '~1')}`

/** A JSON Pointer as the fragment of a URI (RFC 6901, section 6). */
export function pointerFragment(pointer: string): string {
  // Through bytes: half of a surrogate pair, which JSON can spell, has no percent-encoding.
  const text = Buffer.from(pointer).toString()
  return `#${encodeURI(text).replaceAll('#', '%23')}`
}
