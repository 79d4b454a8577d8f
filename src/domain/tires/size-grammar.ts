/** Limits of road vehicle tire sizes; outside them the marking was misread. */
export const SIZE_LIMITS = {
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
export const EACH_MARK = new RegExp(MARK, 'g')
export const TAIL = `${SERVICE}${LOAD}${MARKS}$`

export const METRIC = new RegExp(
  `^(?<prefix>P|LT)? ?(?<width>\\d{3}) ?/ ?(?<aspect>\\d{2,3}) ?${BUILD}${RIM}${TAIL}`,
)
export const FULL_PROFILE = new RegExp(`^(?<width>\\d{3})(?: ?${BUILD}| (?=\\d))${RIM}${TAIL}`)
export const COMBINED = new RegExp(
  `^(?<width>\\d{1,2}\\.\\d{1,2}) ?/ ?(?<width2>\\d{1,2}\\.\\d{1,2}) ?${BUILD}${RIM}${TAIL}`,
)
export const INCH = new RegExp(`^(?<width>\\d{1,2}\\.\\d{1,2}) ?${BUILD}${RIM}${TAIL}`)
export const INCH_SPEED = new RegExp(`^(?<width>\\d{1,2}\\.\\d{1,2}) ?(?<symbol>${SPEED}) ?${RIM}${TAIL}`)
export const ALPHANUMERIC = new RegExp(
  `^(?<letter>[A-N])(?<radial>R)? ?(?<aspect>\\d{2}) ?(?:(?<symbol>${SPEED})? ?(?<build>[RB]))? ?-? ?${RIM}${TAIL}`,
)
export const FLOTATION = new RegExp(
  `^(?<prefix>LT)? ?(?<diameter>\\d{2}(?:\\.\\d{1,2})?) ?X ?(?<width>\\d{1,2}(?:\\.\\d{1,2})?) ?${BUILD}${RIM}${TAIL}`,
)

/** A width in inches with two decimals, as in tables: 5.20 for 5.2, 6.00 for 6. */
export const withHundredths = (width: string) =>
  width.replace(/^\d{1,2}$/, '$&.00').replace(/^(\d{1,2}\.\d)$/, '$10')
