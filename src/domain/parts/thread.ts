import { DomainError, within } from '../errors.js'
import { INCH_M } from '../measure/units.js'

/** A screw thread, from its designation. */
export interface Thread {
  /** The designation in its short form. */
  readonly designation: string
  /** Nominal major diameter [m]. */
  readonly majorDiameterM: number
  /** Axial distance between neighboring turns [m]. */
  readonly pitchM: number
  /** Angle between the flanks [deg]: 60 for metric and unified, 55 for the Whitworth form. */
  readonly flankAngleDeg: 55 | 60
  readonly hand: 'right' | 'left'
}

/** Coarse pitch [mm] by nominal diameter [mm]; ISO 261, quoted from memory. */
const COARSE_PITCH_MM: ReadonlyMap<number, number> = new Map([
  [1, 0.25],
  [1.1, 0.25],
  [1.2, 0.25],
  [1.4, 0.3],
  [1.6, 0.35],
  [1.8, 0.35],
  [2, 0.4],
  [2.2, 0.45],
  [2.5, 0.45],
  [3, 0.5],
  [3.5, 0.6],
  [4, 0.7],
  [4.5, 0.75],
  [5, 0.8],
  [6, 1],
  [7, 1],
  [8, 1.25],
  [9, 1.25],
  [10, 1.5],
  [11, 1.5],
  [12, 1.75],
  [14, 2],
  [16, 2],
  [18, 2.5],
  [20, 2.5],
  [22, 2.5],
  [24, 3],
  [27, 3],
  [30, 3.5],
  [33, 3.5],
  [36, 4],
  [39, 4],
  [42, 4.5],
  [45, 4.5],
  [48, 5],
  [52, 5],
  [56, 5.5],
  [60, 5.5],
  [64, 6],
  [68, 6],
])

/** Maximum pitch over major diameter: the coarsest standard thread, M1, has 0.25. Above this the input is a mistake. */
const COARSEST = 0.3

/** Numbered sizes have at least this many threads per inch, whole-inch sizes fewer: distinguishes 10-32 from 1-8. */
const NUMBERED_FROM_TPI = 24

const METRIC =
  /^M ?(?<diameter>\d{1,3}(?:\.\d{1,2})?)(?: ?X ?(?<pitch>\d{1,2}(?:\.\d{1,3})?|\.\d{1,3}))?(?: ?- ?\d[EFGH](?:\d[EFGH])?)?(?<left> ?-? ?LH)?$/
const INCH =
  /^(?:(?:#|NO\.? ?)(?<numbered>\d{1,2})|(?:(?<whole>\d)[ -])?(?<numerator>\d{1,2})\/(?<denominator>2|4|8|16|32|64)|(?<decimal>\d{0,2}\.\d{1,4}|\d{1,2}))"? ?[-X ] ?(?<tpi>\d{1,2}(?:\.5)?)(?: ?TPI)?(?: ?-? ?(?<series>UN[CFSJR]?|UNEF|BSW|BSF|ME|W))?(?: ?-? ?[123][AB])?(?<left> ?-? ?LH)?$/

type Groups = Partial<Record<string, string>>

function thread(text: string, parts: Thread): Thread {
  within(`${text}: pitch over major diameter`, parts.pitchM / parts.majorDiameterM, 0.002, COARSEST)
  return parts
}

function metric(text: string, groups: Groups): Thread {
  const diameterMm = within(`${text}: major diameter in mm`, Number(groups.diameter), 1, 300)
  const pitchMm = groups.pitch === undefined ? COARSE_PITCH_MM.get(diameterMm) : Number(groups.pitch)
  if (pitchMm === undefined) {
    throw new DomainError(
      'thread-not-understood',
      `${text}: no coarse pitch is known for ${diameterMm} mm; give the pitch in mm after an x, as in M18x1.5`,
      { pointer: '/designation', designation: text },
    )
  }
  const left = groups.left !== undefined
  return thread(text, {
    designation: `M${diameterMm}x${pitchMm}${left ? ' LH' : ''}`,
    majorDiameterM: diameterMm / 1000,
    pitchM: pitchMm / 1000,
    flankAngleDeg: 60,
    hand: left ? 'left' : 'right',
  })
}

function inchSize(groups: Groups, perInch: number): { name: string; inches: number } {
  if (groups.numerator !== undefined) {
    const fraction = `${groups.numerator}/${groups.denominator}`
    return {
      name: groups.whole === undefined ? fraction : `${groups.whole} ${fraction}`,
      inches: Number(groups.whole ?? 0) + Number(groups.numerator) / Number(groups.denominator),
    }
  }
  const number = Number(groups.numbered ?? groups.decimal)
  const numbered =
    groups.numbered !== undefined ||
    (!groups.decimal!.includes('.') && number <= 12 && perInch >= NUMBERED_FROM_TPI)
  return numbered
    ? { name: `#${number}`, inches: (60 + 13 * number) / 1000 }
    : { name: String(number), inches: number }
}

function inch(text: string, groups: Groups): Thread {
  const perInch = within(`${text}: threads per inch`, Number(groups.tpi), 2, 99)
  const { name, inches } = inchSize(groups, perInch)
  within(`${text}: major diameter in inches`, inches, 0.05, 12)
  const whitworth = ['BSW', 'BSF', 'ME', 'W'].includes(groups.series ?? '')
  const left = groups.left !== undefined
  return thread(text, {
    designation: `${name}-${perInch}${groups.series === undefined ? '' : ` ${groups.series}`}${left ? ' LH' : ''}`,
    majorDiameterM: inches * INCH_M,
    pitchM: INCH_M / perInch,
    flankAngleDeg: whitworth ? 55 : 60,
    hand: left ? 'left' : 'right',
  })
}

/**
 * Reads the designation of a screw thread, any case, with or without spaces.
 *
 *     metric: pitch as written, or the coarse pitch of ISO 261
 *     inch: pitch = 1 in / threads per inch; numbered size n: diameter = (0.060 + 0.013·n) in
 *
 * Metric M18x1.5, M12 (coarse), M22x1.5-6H; unified 7/8-18, 5/8-18 UNF, 1 1/8-12, #10-32, 0.875-18; Whitworth form with
 * BSW, BSF, ME or W after it: 3/8-26 ME. LH marks a left-hand thread. A bare whole number followed by 24 or more threads per inch
 * is a numbered size (10-32), otherwise it is inches (1-8).
 *
 * @param text - The designation, at most 40 characters
 * @returns Nominal diameter and pitch, flank angle and hand
 * @throws {DomainError} `thread-not-understood`, or `out-of-range` for a number that no thread has
 * @see ISO 261 (coarse pitches) and ASME B1.1 (numbered sizes), from memory
 * @example parseThread('M18x1.5').pitchM // 0.0015 ± 0
 * @example parseThread('M12').designation // "M12x1.75"
 * @example parseThread('7/8-18').majorDiameterM // 0.022225 ± 1e-12
 * @example parseThread('10-32 UNF').majorDiameterM // 0.004826 ± 1e-12
 * @example parseThread('round the back') // throws thread-not-understood
 */
export function parseThread(text: string): Thread {
  const written = text
    .trim()
    .toUpperCase()
    .replaceAll(/\s+/g, ' ')
    .replaceAll(/[×*]/g, 'X')
    .replaceAll(/(?<=\d),(?=\d)/g, '.')
  try {
    const asMetric = METRIC.exec(written)
    if (asMetric !== null) return metric(text.trim(), asMetric.groups ?? {})
    const asInch = INCH.exec(written)
    if (asInch !== null) return inch(text.trim(), asInch.groups ?? {})
  } catch (error) {
    if (!(error instanceof DomainError)) throw error
    throw new DomainError(error.code, error.message, { ...error.context, pointer: '/designation' })
  }
  throw new DomainError(
    'thread-not-understood',
    `${text}: not a recognized thread; write diameter and pitch, for example M18x1.5, or diameter and threads per inch, for example 7/8-18 or 3/8-26 BSF`,
    { pointer: '/designation', designation: text },
  )
}
