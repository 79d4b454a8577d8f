import { DomainError } from '../errors.js'
import { INCH_M } from '../measure/units.js'
import type { Mutable } from '../mutable.js'

export type Construction = 'radial' | 'diagonal' | 'bias-belted'

export type SizeKind =
  | 'metric'
  | 'millimeter-rim'
  | 'full-profile-metric'
  | 'inch'
  | 'combined-inch'
  | 'alphanumeric'
  | 'flotation'

/** A parsed sidewall marking. Lengths are nominal. */
export interface TireSize {
  /** The marking in its shortest common form, the key of every table. */
  readonly designation: string
  readonly kind: SizeKind
  /** As stated by the marking or by the caller. */
  readonly construction: Construction
  /** Neither marking nor caller states the construction: radial is assumed. */
  readonly constructionAssumed?: true
  /** Nominal section width [m]; absent for alphanumeric sizes, which state a load class. */
  readonly sectionWidthM?: number
  /** Half of the difference of the two widths of a combined size [m]. */
  readonly sectionWidthHalfRangeM?: number
  /** Section height as percent of the section width. */
  readonly aspectPercent?: number
  readonly rimDiameterM: number
  /** Overall diameter, where the marking itself states it (flotation sizes) [m]. */
  readonly statedDiameterM?: number
  readonly lightTruck: boolean
  readonly loadIndex?: number
  readonly speedSymbol?: string
  /** Further marks, as written: ply rating, XL, TL, load index of twin wheels; absent where there are none. */
  readonly marks?: readonly string[]
}

/** Limits of road vehicle tire sizes; outside them the marking was misread. */
const LIMITS = {
  metricWidthMm: [100, 395],
  aspectPercent: [20, 100],
  rimInches: [8, 30],
  rimMm: [200, 720],
  inchWidth: [2, 16],
  flotationDiameterIn: [20, 54],
} as const

const SPEED = '[FGJ-NP-VHWYZ]'
// Construction of the tire in the marking: 'HR', ' R', 'B', '-', '-R'.
const BUILD = `(?:-? ?(?<symbol>${SPEED})? ?(?<build>[RBD])|(?<dash>-)) ?`
const RIM = '(?<rim>\\d{3}|\\d{1,2}(?:\\.5)?)'
const SERVICE = '(?: ?(?<suffix>LT|C))?'
const LOAD = '(?: \\(?(?<load>\\d{2,3})(?:/(?<twin>\\d{2,3}))? ?(?<speed>[A-Z]\\d?)\\)?)?'
const MARK = 'XL|RF|REINFORCED|EXTRA LOAD|TL|TT|M\\+S|\\d{1,2} ?PR'
const MARKS = `(?<marks>(?: (?:${MARK}))*)`
const EACH_MARK = new RegExp(MARK, 'g')
const TAIL = `${SERVICE}${LOAD}${MARKS}$`

const METRIC = new RegExp(
  `^(?<prefix>P|LT)? ?(?<width>\\d{3}) ?/ ?(?<aspect>\\d{2,3}) ?${BUILD}${RIM}${TAIL}`,
)
const FULL_PROFILE = new RegExp(`^(?<width>\\d{3})(?: ?${BUILD}| (?=\\d))${RIM}${TAIL}`)
const COMBINED = new RegExp(
  `^(?<width>\\d{1,2}\\.\\d{1,2}) ?/ ?(?<width2>\\d{1,2}\\.\\d{1,2}) ?${BUILD}${RIM}${TAIL}`,
)
const INCH = new RegExp(`^(?<width>\\d{1,2}\\.\\d{1,2}) ?${BUILD}${RIM}${TAIL}`)
const INCH_SPEED = new RegExp(`^(?<width>\\d{1,2}\\.\\d{1,2}) ?(?<symbol>${SPEED}) ?${RIM}${TAIL}`)
const ALPHANUMERIC = new RegExp(
  `^(?<letter>[A-N])(?<radial>R)? ?(?<aspect>\\d{2}) ?(?:(?<symbol>${SPEED})? ?(?<build>[RB]))? ?-? ?${RIM}${TAIL}`,
)
const FLOTATION = new RegExp(
  `^(?<prefix>LT)? ?(?<diameter>\\d{2}(?:\\.\\d{1,2})?) ?X ?(?<width>\\d{1,2}(?:\\.\\d{1,2})?) ?${BUILD}${RIM}${TAIL}`,
)

type Groups = Partial<Record<string, string>>

/** An incomplete or ambiguous marking, with its meaning and what to write instead. */
interface Unfinished {
  readonly code: 'tire-size-ambiguous' | 'tire-size-without-rim'
  readonly pattern: RegExp
  /** @returns undefined if the numbers cannot have this meaning */
  readonly explain: (groups: Groups) => string | undefined
}

const inside = (value: number, [min, max]: readonly [number, number]) => value >= min && value <= max

/** A width in inches with two decimals, as in tables: 5.20 for 5.2, 6.00 for 6. */
const withHundredths = (width: string) =>
  width.replace(/^\d{1,2}$/, '$&.00').replace(/^(\d{1,2}\.\d)$/, '$10')

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
      const minFirst = sign === '/' || sign === 'R' ? LIMITS.metricWidthMm[1] + 1 : MIN_HUNDREDTHS
      const width = Number(first) / 100
      if (Number(first) < minFirst || !inside(width, LIMITS.inchWidth)) return undefined
      if (!inside(Number(second), LIMITS.rimInches)) return undefined
      const written = width.toFixed(2)
      return `section width ${written} in without its decimal point: write ${written}${sign === 'R' ? 'R' : '-'}${second}${tail}`
    },
  },
  {
    // 165x15, 165x400: aspect ratios are above 19 and below 101.
    code: 'tire-size-ambiguous',
    pattern: /^(?<width>\d{3}) ?[X/] ?(?<rim>\d{2,3})$/,
    explain: ({ width, rim }) => {
      const asRim = inside(Number(rim), LIMITS.rimInches) || inside(Number(rim), LIMITS.rimMm)
      if (!inside(Number(width), LIMITS.metricWidthMm) || !asRim) return undefined
      const full = `section width ${width} mm and rim ${rim}: write ${width}R${rim} for a radial tire, ${width}D${rim} for a diagonal one`
      return inside(Number(rim), LIMITS.aspectPercent)
        ? `${full}; or aspect ratio ${rim} %: write the rim too, for example ${width}/${rim}R18`
        : full
    },
  },
  {
    code: 'tire-size-ambiguous',
    pattern: /^(?<width>\d{3})(?: ?[X/-] ?| )(?<aspect>\d{2,3})$/,
    explain: ({ width, aspect }) =>
      inside(Number(width), LIMITS.metricWidthMm) &&
      inside(Number(aspect), LIMITS.aspectPercent) &&
      !inside(Number(aspect), LIMITS.rimInches)
        ? `section width ${width} mm and aspect ratio ${aspect} %, but no rim: write the whole size, for example ${width}/${aspect}R14`
        : undefined,
  },
  {
    // 4.80x10, 6x16: a tire diameter is above 16 in.
    code: 'tire-size-ambiguous',
    pattern: /^(?<width>\d{1,2}(?:\.\d{1,2})?) ?X ?(?<rim>\d{1,2})$/,
    explain: ({ width, rim }) =>
      inside(Number(width), LIMITS.inchWidth) && inside(Number(rim), LIMITS.rimInches)
        ? `section width ${withHundredths(width!)} in and rim ${rim}: write ${withHundredths(width!)}-${rim}, or ${withHundredths(width!)}R${rim} for a radial tire`
        : undefined,
  },
  {
    // 28x3 1/2, 31x10.50
    code: 'tire-size-without-rim',
    pattern: /^(?<diameter>\d{2}(?:\.\d{1,2})?) ?X ?(?<width>\d{1,2}(?:\.\d{1,2}|[ -]\d\/[248])?)$/,
    explain: ({ diameter, width }) =>
      Number(diameter) > LIMITS.inchWidth[1] && inside(inches(width!), LIMITS.inchWidth)
        ? `overall diameter ${diameter} in and section width ${inches(width!)} in, but no rim: if the sidewall states one, write it too, as in 31x10.50R15; for an early car whose sizes have none, give overallDiameter {"in": ${diameter}} and construction "diagonal" instead of size, with a measured diameter if possible`
        : undefined,
  },
  {
    // 815x105, 760x90
    code: 'tire-size-without-rim',
    pattern: /^(?<diameter>\d{3,4}) ?X ?(?<width>\d{2,3})$/,
    explain: ({ diameter, width }) =>
      Number(diameter) > LIMITS.metricWidthMm[1] && 2 * Number(width) + LIMITS.rimMm[0] <= Number(diameter)
        ? `overall diameter ${diameter} mm and section width ${width} mm, as on early cars, but no rim: give overallDiameter {"mm": ${diameter}} and construction "diagonal" instead of size, with a measured diameter if possible`
        : undefined,
  },
]

/** Hyphens, dashes and minus signs that look like the hyphen of the keyboard. */
const DASHES = /[\u2010-\u2015\u2212]/g

function limit(text: string, what: string, value: number, [min, max]: readonly [number, number]): number {
  if (value < min || value > max) {
    throw new DomainError(
      'tire-size-out-of-range',
      `${text}: ${what} reads as ${value}, outside ${min} to ${max}; check it against the sidewall`,
      { pointer: '/size', size: text, what, value, min, max },
    )
  }
  return value
}

/** Construction by the letter in the marking. */
function marked(groups: Groups): Construction | undefined {
  if (groups.build === 'R' || groups.radial === 'R') return 'radial'
  if (groups.build === 'B') return 'bias-belted'
  return groups.build === 'D' ? 'diagonal' : undefined
}

/**
 * Possible constructions for a marking without a letter, the assumed one first. By UN R30, 2.17 such a tire is diagonal; letter sizes with a dash
 * were made bias-belted too. Widths in millimeters came with radial tires, before the letter was common: common practice, no source.
 */
const unmarked = (kind: SizeKind): readonly Construction[] =>
  kind === 'full-profile-metric' ? ['radial', 'diagonal', 'bias-belted'] : ['diagonal', 'bias-belted']

function construction(text: string, admitted: readonly Construction[], stated: Construction | undefined) {
  if (stated === undefined || admitted.includes(stated)) return stated ?? admitted[0]!
  const hint = stated === 'radial' ? '; radial tire sizes have an R' : ''
  throw new DomainError(
    'construction-mismatch',
    `construction: ${text} is ${admitted.join(' or ')}, got ${stated}${hint}`,
    { pointer: '/construction', size: text },
  )
}

function rimDiameterM(text: string, rim: string): number {
  const code = Number(rim)
  return code >= 100
    ? limit(text, 'rim diameter in millimeters', code, LIMITS.rimMm) / 1000
    : limit(text, 'rim diameter code', code, LIMITS.rimInches) * INCH_M
}

const BUILD_MARK: Readonly<Record<Construction, string>> = { radial: 'R', 'bias-belted': 'B', diagonal: '-' }

/** A marking, with the construction if the caller states it. */
interface Marking {
  readonly text: string
  readonly stated: Construction | undefined
}

/**
 * The fields common to all kinds of marking. The designation is the stem, then the construction, then the rim. Each kind adds its own
 * fields to the result by assignment, since object spread is slow.
 */
function begun({ text, stated }: Marking, groups: Groups, kind: SizeKind, stem: string): Mutable<TireSize> {
  const letter = marked(groups)
  const built = construction(text, letter === undefined ? unmarked(kind) : [letter], stated)
  const written = letter ?? (stated === 'radial' ? 'radial' : 'diagonal')
  // In letter sizes the R is part of the stem, before the aspect ratio: FR70-14.
  const mark = kind === 'alphanumeric' && written === 'radial' ? '-' : BUILD_MARK[written]
  const marks = [
    ...(groups.twin === undefined ? [] : [`twin ${groups.twin}`]),
    ...(groups.marks?.match(EACH_MARK) ?? []),
  ]
  const size: Mutable<TireSize> = {
    designation: `${stem}${mark}${groups.rim}${groups.suffix ?? ''}`,
    kind,
    construction: built,
    rimDiameterM: rimDiameterM(text, groups.rim!),
    lightTruck: groups.prefix === 'LT' || groups.suffix !== undefined,
  }
  if (marks.length > 0) size.marks = marks
  if (kind === 'full-profile-metric' && letter === undefined && stated === undefined) {
    size.constructionAssumed = true
  }
  if (groups.load !== undefined) size.loadIndex = Number(groups.load)
  const symbol = groups.speed ?? groups.symbol
  if (symbol !== undefined) size.speedSymbol = symbol
  return size
}

function metric(marking: Marking, groups: Groups): TireSize {
  const width = limit(
    marking.text,
    'section width in millimeters',
    Number(groups.width),
    LIMITS.metricWidthMm,
  )
  const aspect = limit(marking.text, 'aspect ratio', Number(groups.aspect), LIMITS.aspectPercent)
  const kind = Number(groups.rim) >= 100 ? 'millimeter-rim' : 'metric'
  const size = begun(marking, groups, kind, `${groups.prefix ?? ''}${width}/${aspect}`)
  size.sectionWidthM = width / 1000
  size.aspectPercent = aspect
  return size
}

function fullProfile(marking: Marking, groups: Groups): TireSize {
  const width = limit(
    marking.text,
    'section width in millimeters',
    Number(groups.width),
    LIMITS.metricWidthMm,
  )
  const size = begun(marking, groups, 'full-profile-metric', String(width))
  size.sectionWidthM = width / 1000
  return size
}

function inch(marking: Marking, groups: Groups): TireSize {
  const width = limit(marking.text, 'section width in inches', Number(groups.width), LIMITS.inchWidth)
  const size = begun(marking, groups, 'inch', withHundredths(groups.width!))
  size.sectionWidthM = width * INCH_M
  return size
}

function combinedInch(marking: Marking, groups: Groups): TireSize {
  const width = limit(marking.text, 'section width in inches', Number(groups.width), LIMITS.inchWidth)
  const width2 = limit(
    marking.text,
    'second section width in inches',
    Number(groups.width2),
    LIMITS.inchWidth,
  )
  const stem = `${withHundredths(groups.width!)}/${withHundredths(groups.width2!)}`
  const size = begun(marking, groups, 'combined-inch', stem)
  size.sectionWidthM = ((width + width2) / 2) * INCH_M
  size.sectionWidthHalfRangeM = (Math.abs(width2 - width) / 2) * INCH_M
  return size
}

function alphanumeric(marking: Marking, groups: Groups): TireSize {
  const aspect = limit(marking.text, 'aspect ratio', Number(groups.aspect), LIMITS.aspectPercent)
  const radial = marked(groups) === 'radial' ? 'R' : ''
  const size = begun(marking, groups, 'alphanumeric', `${groups.letter}${radial}${aspect}`)
  size.aspectPercent = aspect
  return size
}

function flotation(marking: Marking, groups: Groups): TireSize {
  const diameter = limit(
    marking.text,
    'overall diameter in inches',
    Number(groups.diameter),
    LIMITS.flotationDiameterIn,
  )
  const width = limit(marking.text, 'section width in inches', Number(groups.width), LIMITS.inchWidth)
  const size = begun(marking, groups, 'flotation', `${groups.prefix ?? ''}${groups.diameter}x${groups.width}`)
  size.sectionWidthM = width * INCH_M
  size.statedDiameterM = diameter * INCH_M
  return size
}

const GRAMMAR: ReadonlyArray<readonly [RegExp, (marking: Marking, groups: Groups) => TireSize]> = [
  [METRIC, metric],
  [FULL_PROFILE, fullProfile],
  [COMBINED, combinedInch],
  [INCH, inch],
  [INCH_SPEED, inch],
  [FLOTATION, flotation],
  [ALPHANUMERIC, alphanumeric],
]

/** Single-character fractions as plain text: 3½ is 3 1/2. */
const FRACTIONS: Readonly<Record<string, string>> = { '¼': ' 1/4', '½': ' 1/2', '¾': ' 3/4' }

/**
 * Parses a tire size as written on a sidewall, any case, with or without spaces.
 *
 * Metric 195/70R14, 185/70 HR 13, P205/75R15, 205/55ZR16 91W, 175/70-13; millimeter rim 190/65R390; full-profile metric
 * 165R15, 155 SR 13, 155-13, 165-400; inch 5.60-15; combined inch 5.25/5.50-18; alphanumeric FR70-14; flotation 31x10.50R15LT.
 *
 * A marking without a letter for the construction is diagonal, or bias-belted where that is stated. Full-profile metric sizes without one
 * (155-13) are assumed radial, as the result says; a stated construction decides.
 *
 * @param text - The marking, at most 40 characters
 * @param stated - Construction of the tire, if known
 * @returns The parsed size; widths and diameters nominal, in meters
 * @throws {DomainError} `tire-size-not-understood`, `tire-size-ambiguous` (more than one meaning, or part of a size, with what to
 *   write), `tire-size-without-rim` (overall diameter and width), `tire-size-out-of-range` (a number that no road tire has),
 *   `construction-mismatch` (the marking states another)
 * @see UN R30, 2.17 (tire size designation); radial without a letter: common practice, no source
 * @example parseTireSize('185/70 hr 13').designation // "185/70R13"
 * @example parseTireSize('5.25/5.50-18').sectionWidthM // 0.136525 ± 1e-12
 * @example parseTireSize('155-13').construction // "radial"
 * @example parseTireSize('155-13', 'diagonal').construction // "diagonal"
 * @example parseTireSize('175-70-13') // throws tire-size-ambiguous
 * @example parseTireSize('815x105') // throws tire-size-without-rim
 */
export function parseTireSize(text: string, stated?: Construction): TireSize {
  const written = text
    .trim()
    .toUpperCase()
    .replaceAll(/[¼½¾]/g, (fraction) => FRACTIONS[fraction]!)
    .replaceAll('×', 'X')
    .replaceAll(/\s+/g, ' ')
    .replaceAll(/(?<=\d),(?=\d)/g, '.')
  // A size with three groups of digits and no construction, or an inch size without its decimal point, has two meanings.
  for (const { code, pattern, explain } of UNFINISHED) {
    const match = pattern.exec(written)
    const explained = match === null ? undefined : explain(match.groups!)
    if (explained !== undefined) {
      throw new DomainError(code, `${text}: understood ${explained}`, { pointer: '/size', size: text })
    }
  }
  for (const [pattern, read] of GRAMMAR) {
    const match = pattern.exec(written)
    if (match !== null) return read({ text: text.trim(), stated }, match.groups ?? {})
  }
  const hyphened = text.replaceAll(DASHES, '-')
  if (hyphened !== text) {
    throw new DomainError(
      'tire-size-not-understood',
      `${text}: its dash is not a plain hyphen; write ${hyphened}`,
      { pointer: '/size', size: text },
    )
  }
  throw new DomainError(
    'tire-size-not-understood',
    `${text}: not a recognized tire size; write it as on the sidewall, for example 195/70R14, 165R15, 5.60-15 or 31x10.50R15LT, or give a measured rollingCircumference`,
    { pointer: '/size', size: text },
  )
}
