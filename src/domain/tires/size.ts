import { DomainError } from '../errors.js'
import { INCH_M } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import {
  ALPHANUMERIC,
  COMBINED,
  EACH_MARK,
  FLOTATION,
  FULL_PROFILE,
  INCH,
  INCH_SPEED,
  METRIC,
  SIZE_LIMITS,
  withHundredths,
} from './size-grammar.js'
import { unfinishedSize } from './unfinished-size.js'

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

type Groups = Partial<Record<string, string>>

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
    ? limit(text, 'rim diameter in millimeters', code, SIZE_LIMITS.rimMm) / 1000
    : limit(text, 'rim diameter code', code, SIZE_LIMITS.rimInches) * INCH_M
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
    SIZE_LIMITS.metricWidthMm,
  )
  const aspect = limit(marking.text, 'aspect ratio', Number(groups.aspect), SIZE_LIMITS.aspectPercent)
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
    SIZE_LIMITS.metricWidthMm,
  )
  const size = begun(marking, groups, 'full-profile-metric', String(width))
  size.sectionWidthM = width / 1000
  return size
}

function inch(marking: Marking, groups: Groups): TireSize {
  const width = limit(marking.text, 'section width in inches', Number(groups.width), SIZE_LIMITS.inchWidth)
  const size = begun(marking, groups, 'inch', withHundredths(groups.width!))
  size.sectionWidthM = width * INCH_M
  return size
}

function combinedInch(marking: Marking, groups: Groups): TireSize {
  const width = limit(marking.text, 'section width in inches', Number(groups.width), SIZE_LIMITS.inchWidth)
  const width2 = limit(
    marking.text,
    'second section width in inches',
    Number(groups.width2),
    SIZE_LIMITS.inchWidth,
  )
  const stem = `${withHundredths(groups.width!)}/${withHundredths(groups.width2!)}`
  const size = begun(marking, groups, 'combined-inch', stem)
  size.sectionWidthM = ((width + width2) / 2) * INCH_M
  size.sectionWidthHalfRangeM = (Math.abs(width2 - width) / 2) * INCH_M
  return size
}

function alphanumeric(marking: Marking, groups: Groups): TireSize {
  const aspect = limit(marking.text, 'aspect ratio', Number(groups.aspect), SIZE_LIMITS.aspectPercent)
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
    SIZE_LIMITS.flotationDiameterIn,
  )
  const width = limit(marking.text, 'section width in inches', Number(groups.width), SIZE_LIMITS.inchWidth)
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
  const key = `${text}|${stated ?? ''}`
  const known = PARSED.get(key)
  if (known !== undefined) return known
  const size = parsed(text, stated)
  if (PARSED.size === MAX_PARSED) PARSED.delete(PARSED.keys().next().value!)
  PARSED.set(key, size)
  return size
}

/** Sizes parsed last: the vehicles of a club or of a batch have few, and a size is a function of its marking. */
const PARSED = new Map<string, TireSize>()
const MAX_PARSED = 500

function parsed(text: string, stated: Construction | undefined): TireSize {
  const written = text
    .trim()
    .toUpperCase()
    .replaceAll(/[¼½¾]/g, (fraction) => FRACTIONS[fraction]!)
    .replaceAll('×', 'X')
    .replaceAll(/\s+/g, ' ')
    .replaceAll(/(?<=\d),(?=\d)/g, '.')
  // A size with three groups of digits and no construction, or an inch size without its decimal point, has two meanings.
  const unfinished = unfinishedSize(written)
  if (unfinished !== undefined) {
    throw new DomainError(unfinished.code, `${text}: understood ${unfinished.text}`, {
      pointer: '/size',
      size: text,
    })
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
