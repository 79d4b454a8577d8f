/** Ranges of code points that a font has glyphs for. */
export type Coverage = ReadonlyArray<readonly [first: number, last: number]>

/** Offset of a table in a font file. */
function tableAt(font: Buffer, tag: string): number {
  const tables = font.readUInt16BE(4)
  for (let at = 12; at < 12 + 16 * tables; at += 16) {
    if (font.toString('latin1', at, at + 4) === tag) return font.readUInt32BE(at + 8)
  }
  throw new RangeError(`a font without ${tag}`)
}

/**
 * The code points that a TrueType font covers, from the segmented map of its character table.
 *
 * @see ISO/IEC 14496-22 (Open Font Format), 5.2.1, cmap subtable format 12
 */
export function coverageOf(font: Buffer): Coverage {
  const cmap = tableAt(font, 'cmap')
  for (let index = 0; index < font.readUInt16BE(cmap + 2); index++) {
    const map = cmap + font.readUInt32BE(cmap + 4 + 8 * index + 4)
    if (font.readUInt16BE(map) !== 12) continue
    return Array.from({ length: font.readUInt32BE(map + 12) }, (_, group) => {
      const at = map + 16 + 12 * group
      return [font.readUInt32BE(at), font.readUInt32BE(at + 4)] as const
    })
  }
  throw new RangeError('a font without a map of all of Unicode')
}

export const covers = (coverage: Coverage, codePoint: number) =>
  coverage.some(([first, last]) => codePoint >= first && codePoint <= last)
