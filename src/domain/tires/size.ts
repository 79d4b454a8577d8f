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

/** What a sidewall marking says. Lengths are nominal. */
export interface TireSize {
  /** The marking in its shortest usual form, the key of every table. */
  readonly designation: string
  readonly kind: SizeKind
  readonly construction: Construction
  /** Nominal section width [m]; absent for alphanumeric sizes, which name a load class. */
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
  /** Further marks, kept as written: ply rating, XL, TL, load index of twin wheels. */
  readonly marks: readonly string[]
}

/** Bounds of sizes ever made for road vehicles; outside them the marking was misread. */
const LIMITS = {
  metricWidthMm: [100, 395],
  aspectPercent: [20, 100],
  rimInches: [8, 30],
  rimMm: [200, 720],
  inchWidth: [2, 16],
  flotationDiameterIn: [20, 54],
} as const

const SPEED = '[FGJ-NP-VHWYZ]'
// Where the tread's construction is written: 'HR', ' R', 'B', '-', '-R'.
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
const FULL_PROFILE = new RegExp(`^(?<width>\\d{3}) ?${BUILD}${RIM}${TAIL}`)
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

/** Markings that people write and that mean more than one thing, with what to write instead. */
const AMBIGUOUS: ReadonlyArray<readonly [RegExp, (groups: RegExpMatchArray) => string]> = [
  [
    /^(?!\d{3} ?\/ ?\d{2} ?- ?\d)(\d{3})[ /-]+(\d{2})[ /-]+(\d{2}|\d{3})$/,
    ([, width, aspect, rim]) =>
      `width ${width} mm, aspect ratio ${aspect} %, rim ${rim}, but not whether radial or diagonal: write ${width}/${aspect}R${rim} or ${width}/${aspect}-${rim}`,
  ],
  [
    /^([4-9])(\d{2}) ?- ?(\d{2})$/,
    ([, inches, hundredths, rim]) =>
      `section width ${inches}${hundredths} without a decimal point: write ${inches}.${hundredths}-${rim} for inches`,
  ],
  [
    /^(\d{1,2}(?:\.\d{1,2})?) ?X ?(\d{1,2}(?:\.\d{1,2})?)$/,
    ([, first, second]) =>
      `${first} by ${second}, which may be width by rim or overall diameter by width: write ${first}-${second} when ${first} is the section width in inches, otherwise give overallDiameter`,
  ],
  [
    /^(\d{3}) ?(?:X|\/) ?(\d{2})$/,
    ([, width, second]) =>
      `width ${width} mm and ${second}, which may be an aspect ratio or a rim: write ${width}R${second}, ${width}-${second} or the whole size, for example ${width}/${second}R14`,
  ],
]

/** Hyphens, dashes and minus signs that look like the hyphen of the keyboard. */
const DASHES = /[\u2010-\u2015\u2212]/g

type Groups = Partial<Record<string, string>>

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

function construction(groups: Groups): Construction {
  if (groups.build === 'R' || groups.radial === 'R') return 'radial'
  return groups.build === 'B' ? 'bias-belted' : 'diagonal'
}

function rimDiameterM(text: string, rim: string): number {
  const code = Number(rim)
  return code >= 100
    ? limit(text, 'rim diameter in millimeters', code, LIMITS.rimMm) / 1000
    : limit(text, 'rim diameter code', code, LIMITS.rimInches) * INCH_M
}

const BUILD_MARK: Readonly<Record<Construction, string>> = { radial: 'R', 'bias-belted': 'B', diagonal: '-' }

/**
 * What every kind of marking says alike. The designation is the stem, then how it is built, then the rim; a kind adds its own
 * fields to the result, since a literal that spreads another is slow.
 */
function begun(text: string, groups: Groups, kind: SizeKind, stem: string): Mutable<TireSize> {
  const built = construction(groups)
  // Letters say radial before the aspect ratio, where the stem has it: FR70-14.
  const mark = kind === 'alphanumeric' && built === 'radial' ? '-' : BUILD_MARK[built]
  const marks = groups.marks?.match(EACH_MARK) ?? []
  const size: Mutable<TireSize> = {
    designation: `${stem}${mark}${groups.rim}${groups.suffix ?? ''}`,
    kind,
    construction: built,
    rimDiameterM: rimDiameterM(text, groups.rim!),
    lightTruck: groups.prefix === 'LT' || groups.suffix !== undefined,
    marks: groups.twin === undefined ? marks : [`twin ${groups.twin}`, ...marks],
  }
  if (groups.load !== undefined) size.loadIndex = Number(groups.load)
  const symbol = groups.speed ?? groups.symbol
  if (symbol !== undefined) size.speedSymbol = symbol
  return size
}

function metric(text: string, groups: Groups): TireSize {
  const width = limit(text, 'section width in millimeters', Number(groups.width), LIMITS.metricWidthMm)
  const aspect = limit(text, 'aspect ratio', Number(groups.aspect), LIMITS.aspectPercent)
  const kind = Number(groups.rim) >= 100 ? 'millimeter-rim' : 'metric'
  const size = begun(text, groups, kind, `${groups.prefix ?? ''}${width}/${aspect}`)
  size.sectionWidthM = width / 1000
  size.aspectPercent = aspect
  return size
}

function fullProfile(text: string, groups: Groups): TireSize {
  const width = limit(text, 'section width in millimeters', Number(groups.width), LIMITS.metricWidthMm)
  const size = begun(text, groups, 'full-profile-metric', String(width))
  size.sectionWidthM = width / 1000
  return size
}

/** A width in inches with its hundredths, as tables have it: 5.20 for 5.2. */
const withHundredths = (width: string) => width.replace(/^(\d{1,2}\.\d)$/, '$10')

function inch(text: string, groups: Groups): TireSize {
  const width = limit(text, 'section width in inches', Number(groups.width), LIMITS.inchWidth)
  const size = begun(text, groups, 'inch', withHundredths(groups.width!))
  size.sectionWidthM = width * INCH_M
  return size
}

function combinedInch(text: string, groups: Groups): TireSize {
  const width = limit(text, 'section width in inches', Number(groups.width), LIMITS.inchWidth)
  const width2 = limit(text, 'second section width in inches', Number(groups.width2), LIMITS.inchWidth)
  const stem = `${withHundredths(groups.width!)}/${withHundredths(groups.width2!)}`
  const size = begun(text, groups, 'combined-inch', stem)
  size.sectionWidthM = ((width + width2) / 2) * INCH_M
  size.sectionWidthHalfRangeM = (Math.abs(width2 - width) / 2) * INCH_M
  return size
}

function alphanumeric(text: string, groups: Groups): TireSize {
  const aspect = limit(text, 'aspect ratio', Number(groups.aspect), LIMITS.aspectPercent)
  const radial = construction(groups) === 'radial' ? 'R' : ''
  const size = begun(text, groups, 'alphanumeric', `${groups.letter}${radial}${aspect}`)
  size.aspectPercent = aspect
  return size
}

function flotation(text: string, groups: Groups): TireSize {
  const diameter = limit(
    text,
    'overall diameter in inches',
    Number(groups.diameter),
    LIMITS.flotationDiameterIn,
  )
  const width = limit(text, 'section width in inches', Number(groups.width), LIMITS.inchWidth)
  const size = begun(text, groups, 'flotation', `${groups.prefix ?? ''}${groups.diameter}x${groups.width}`)
  size.sectionWidthM = width * INCH_M
  size.statedDiameterM = diameter * INCH_M
  return size
}

const GRAMMAR: ReadonlyArray<readonly [RegExp, (text: string, groups: Groups) => TireSize]> = [
  [METRIC, metric],
  [FULL_PROFILE, fullProfile],
  [COMBINED, combinedInch],
  [INCH, inch],
  [INCH_SPEED, inch],
  [FLOTATION, flotation],
  [ALPHANUMERIC, alphanumeric],
]

/**
 * Reads a tire size as written on a sidewall, any case, with or without spaces.
 *
 * Metric 195/70R14, 185/70 HR 13, P205/75R15, 205/55ZR16 91W, 175/70-13; millimeter rim 190/65R390; full-profile metric
 * 165R15, 155 SR 13; inch 5.60-15; combined inch 5.25/5.50-18; alphanumeric FR70-14; flotation 31x10.50R15LT.
 *
 * @param text - The marking, at most 40 characters
 * @returns What the marking says; widths and diameters nominal, in meters
 * @throws {DomainError} `tire-size-not-understood`, `tire-size-ambiguous` (more than one reading, with what to write),
 *   `tire-size-out-of-range` (a number that no road tire has)
 * @see UN R30, 2.17 (tire size designation)
 * @example parseTireSize('185/70 hr 13').designation // "185/70R13"
 * @example parseTireSize('5.25/5.50-18').sectionWidthM // 0.136525 ± 1e-12
 * @example parseTireSize('175-70-13') // throws tire-size-ambiguous
 */
export function parseTireSize(text: string): TireSize {
  const marking = text
    .trim()
    .toUpperCase()
    .replaceAll(/\s+/g, ' ')
    .replaceAll(/(?<=\d),(?=\d)/g, '.')
  // A size with three groups of digits and no construction, or an inch size without its point, has two readings.
  for (const [pattern, explain] of AMBIGUOUS) {
    const match = pattern.exec(marking)
    if (match !== null) {
      throw new DomainError('tire-size-ambiguous', `${text}: understood ${explain(match)}`, {
        pointer: '/size',
        size: text,
      })
    }
  }
  for (const [pattern, read] of GRAMMAR) {
    const match = pattern.exec(marking)
    if (match !== null) return read(text.trim(), match.groups ?? {})
  }
  const hyphened = text.replaceAll(DASHES, '-')
  if (hyphened !== text) {
    throw new DomainError(
      'tire-size-not-understood',
      `${text}: the dash in it is not the hyphen of the keyboard; write ${hyphened}`,
      { pointer: '/size', size: text },
    )
  }
  throw new DomainError(
    'tire-size-not-understood',
    `${text}: not a tire size this service reads; write it as on the sidewall, for example 195/70R14, 165R15, 5.60-15 or 31x10.50R15LT, or give a measured rollingCircumference`,
    { pointer: '/size', size: text },
  )
}
