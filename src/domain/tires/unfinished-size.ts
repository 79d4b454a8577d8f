import { SIZE_LIMITS, TAIL, withHundredths } from './size-grammar.js'

type Groups = Partial<Record<string, string>>

/** An incomplete or ambiguous marking, with its meaning and what to write instead. */
interface Unfinished {
  readonly code: 'tire-size-ambiguous' | 'tire-size-without-rim'
  readonly pattern: RegExp
  /** @returns undefined if the numbers cannot have this meaning */
  readonly explain: (groups: Groups) => string | undefined
}

const inside = (value: number, [min, max]: readonly [number, number]) => value >= min && value <= max

/** Whole inches and a fraction: 3 1/2. */
function inches(text: string): number {
  const [whole, over, under] = text.split(/[ -]|\//)
  return Number(whole) + (over === undefined ? 0 : Number(over) / Number(under))
}

/** Narrowest section written in hundredths of an inch: widths in millimeters without an aspect ratio end at 245. */
const MIN_HUNDREDTHS = 250

/** Widths in inches end in 0 or 5: 6.40, 6.95. */
const HUNDREDTHS = new RegExp(
  `^(?<first>\\d{2,3}[05])(?: ?(?<sign>[-X/R]) ?| )(?<second>\\d{2,3})(?<tail>${TAIL})`,
)

const UNFINISHED: readonly Unfinished[] = [
  {
    code: 'tire-size-ambiguous',
    pattern: /^(?!\d{3} ?\/ ?\d{2} ?- ?\d)(?<width>\d{3})[ /-]+(?<aspect>\d{2})[ /-]+(?<rim>\d{2}|\d{3})$/,
    explain: ({ width, aspect, rim }) =>
      `width ${width} mm, aspect ratio ${aspect} %, rim ${rim}, but not whether radial or diagonal: write ${width}/${aspect}R${rim} or ${width}/${aspect}-${rim}`,
  },
  {
    // 640-13, 500x16: hundredths of an inch. Not 305/30: after a slash the second number may be an aspect ratio.
    code: 'tire-size-ambiguous',
    pattern: HUNDREDTHS,
    explain: ({ first, sign, second, tail }) => {
      const minFirst = sign === '/' || sign === 'R' ? SIZE_LIMITS.metricWidthMm[1] + 1 : MIN_HUNDREDTHS
      const width = Number(first) / 100
      if (Number(first) < minFirst || !inside(width, SIZE_LIMITS.inchWidth)) return undefined
      if (!inside(Number(second), SIZE_LIMITS.rimInches)) return undefined
      const written = width.toFixed(2)
      return `section width ${written} in without its decimal point: write ${written}${sign === 'R' ? 'R' : '-'}${second}${tail}`
    },
  },
  {
    // 165x15, 165x400: aspect ratios are above 19 and below 101.
    code: 'tire-size-ambiguous',
    pattern: /^(?<width>\d{3}) ?[X/] ?(?<rim>\d{2,3})$/,
    explain: ({ width, rim }) => {
      const asRim = inside(Number(rim), SIZE_LIMITS.rimInches) || inside(Number(rim), SIZE_LIMITS.rimMm)
      if (!inside(Number(width), SIZE_LIMITS.metricWidthMm) || !asRim) return undefined
      const full = `section width ${width} mm and rim ${rim}: write ${width}R${rim} for a radial tire, ${width}D${rim} for a diagonal one`
      return inside(Number(rim), SIZE_LIMITS.aspectPercent)
        ? `${full}; or aspect ratio ${rim} %: write the rim too, for example ${width}/${rim}R18`
        : full
    },
  },
  {
    code: 'tire-size-ambiguous',
    pattern: /^(?<width>\d{3})(?: ?[X/-] ?| )(?<aspect>\d{2,3})$/,
    explain: ({ width, aspect }) =>
      inside(Number(width), SIZE_LIMITS.metricWidthMm) &&
      inside(Number(aspect), SIZE_LIMITS.aspectPercent) &&
      !inside(Number(aspect), SIZE_LIMITS.rimInches)
        ? `section width ${width} mm and aspect ratio ${aspect} %, but no rim: write the whole size, for example ${width}/${aspect}R14`
        : undefined,
  },
  {
    // 4.80x10, 6x16: a tire diameter is above 16 in.
    code: 'tire-size-ambiguous',
    pattern: /^(?<width>\d{1,2}(?:\.\d{1,2})?) ?X ?(?<rim>\d{1,2})$/,
    explain: ({ width, rim }) =>
      inside(Number(width), SIZE_LIMITS.inchWidth) && inside(Number(rim), SIZE_LIMITS.rimInches)
        ? `section width ${withHundredths(width!)} in and rim ${rim}: write ${withHundredths(width!)}-${rim}, or ${withHundredths(width!)}R${rim} for a radial tire`
        : undefined,
  },
  {
    // 28x3 1/2, 31x10.50
    code: 'tire-size-without-rim',
    pattern: /^(?<diameter>\d{2}(?:\.\d{1,2})?) ?X ?(?<width>\d{1,2}(?:\.\d{1,2}|[ -]\d\/[248])?)$/,
    explain: ({ diameter, width }) =>
      Number(diameter) > SIZE_LIMITS.inchWidth[1] && inside(inches(width!), SIZE_LIMITS.inchWidth)
        ? `overall diameter ${diameter} in and section width ${inches(width!)} in, but no rim: if the sidewall states one, write it too, as in 31x10.50R15; for an early car whose sizes have none, give overallDiameter {"in": ${diameter}} and construction "diagonal" instead of size, with a measured diameter if possible`
        : undefined,
  },
  {
    // 815x105, 760x90
    code: 'tire-size-without-rim',
    pattern: /^(?<diameter>\d{3,4}) ?X ?(?<width>\d{2,3})$/,
    explain: ({ diameter, width }) =>
      Number(diameter) > SIZE_LIMITS.metricWidthMm[1] &&
      2 * Number(width) + SIZE_LIMITS.rimMm[0] <= Number(diameter)
        ? `overall diameter ${diameter} mm and section width ${width} mm, as on early cars, but no rim: give overallDiameter {"mm": ${diameter}} and construction "diagonal" instead of size, with a measured diameter if possible`
        : undefined,
  },
]

/** What a marking that is part of a size, or has more than one meaning, is understood as; undefined for all others. */
export const unfinishedSize = (
  written: string,
): { readonly code: Unfinished['code']; readonly text: string } | undefined => {
  for (const { code, pattern, explain } of UNFINISHED) {
    const match = pattern.exec(written)
    const text = match === null ? undefined : explain(match.groups!)
    if (text !== undefined) return { code, text }
  }
  return undefined
}
