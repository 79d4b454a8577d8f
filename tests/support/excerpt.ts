import { expect } from 'vitest'

/** Half a unit of the last digit shown, whichever way the number is written. */
function halfADigit(shown: number): number {
  const [mantissa, exponent = '0'] = String(shown).split('e')
  const digits = mantissa!.split('.')[1]?.length ?? 0
  return 0.5 * 10 ** (Number(exponent) - digits)
}

/**
 * An answer begins as its excerpt: numbers agree to the digits shown, text that ends in dots up to them, lists from their head;
 * fields may be left out. `$NAME` in the excerpt takes the value that stands there.
 */
export function expectExcerpt(shown: unknown, given: unknown, names?: Map<string, string>, path = ''): void {
  if (typeof shown === 'number') {
    expect(given, path).toBeTypeOf('number')
    expect(Math.abs((given as number) - shown), `${path}: ${given}`).toBeLessThanOrEqual(
      halfADigit(shown) * (1 + 1e-9),
    )
  } else if (typeof shown === 'string') {
    const name = /^\$([A-Z_]+)$/.exec(shown)?.[1]
    if (name !== undefined && names !== undefined) {
      expect(given, path).toBeTypeOf('string')
      if (!names.has(name)) names.set(name, given as string)
      expect(given, path).toBe(names.get(name))
    } else if (shown.endsWith('...')) {
      expect(given, path).toBeTypeOf('string')
      expect(String(given).startsWith(shown.replace(/ ?\.\.\.$/, '')), `${path}: ${given}`).toBe(true)
    } else expect(given, path).toBe(shown)
  } else if (typeof shown === 'object' && shown !== null) {
    expect(typeof given, path).toBe('object')
    if (Array.isArray(shown) && shown.length === 0) expect(given, path).toEqual([])
    for (const [key, inner] of Object.entries(shown))
      expectExcerpt(inner, (given as Record<string, unknown>)[key], names, `${path}/${key}`)
  } else expect(given, path).toBe(shown)
}

/** The lines of a text begin as those shown; ` ...` at the end of a line and `...` alone cut off the rest. */
export function expectLines(shown: string, given: string): void {
  const lines = given.split('\n')
  for (const [index, line] of shown.trimEnd().split('\n').entries()) {
    if (line === '...') return
    if (line.endsWith(' ...')) expect(lines[index]?.startsWith(line.slice(0, -4)), lines[index]).toBe(true)
    else expect(lines[index]?.trimEnd()).toBe(line)
  }
}
