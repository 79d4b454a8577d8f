// Characters that XML 1.0 forbids, and unpaired surrogates, which JSON can contain.
const UNPRINTABLE = /[^\t\n\r\u{20}-\u{D7FF}\u{E000}-\u{FFFD}\u{10000}-\u{10FFFF}]|[\u{7F}-\u{9F}]/gu

/** Text with every character that a document cannot hold replaced by U+FFFD. */
export const printableText = (text: string) => text.replaceAll(UNPRINTABLE, '\u{FFFD}')

/** The same for every string of an answer. */
export function printable<T>(shape: T): T {
  return JSON.parse(JSON.stringify(shape), (_key, value: unknown) =>
    typeof value === 'string' ? printableText(value) : value,
  )
}
