// What XML 1.0 does not allow in a document, and half of a surrogate pair, which JSON can spell.
const UNPRINTABLE = /[^\t\n\r\u{20}-\u{D7FF}\u{E000}-\u{FFFD}\u{10000}-\u{10FFFF}]|[\u{7F}-\u{9F}]/gu

/** Text that any document can hold: each character that none can is shown as the one that stands for it. */
export const printableText = (text: string) => text.replaceAll(UNPRINTABLE, '\u{FFFD}')

/** The same for every text of a shape of the wire. */
export function printable<T>(shape: T): T {
  return JSON.parse(JSON.stringify(shape), (_key, value: unknown) =>
    typeof value === 'string' ? printableText(value) : value,
  )
}
