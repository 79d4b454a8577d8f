import type { WorksheetShape } from '../schemas/worksheets.js'
import { figureText, twoDigits } from './numbers.js'
import type { Column } from './sheet.js'

export type Path = WorksheetShape['paths'][number]
export type Speed = Path['table'][number]['true']
type PerDistance = Path['output']
export type Input = WorksheetShape['measured'][number]
export type Remedy = WorksheetShape['remedies'][number]

export const SPEED_UNITS = {
  mph: [
    { key: 'mph', name: 'mph' },
    { key: 'kmh', name: 'km/h' },
  ],
  kmh: [
    { key: 'kmh', name: 'km/h' },
    { key: 'mph', name: 'mph' },
  ],
} as const

export const VERDICTS = {
  conforms: 'allowed',
  'does-not-conform': 'not\u{A0}allowed',
  'not-proven': 'not\u{A0}proven',
} as const

export const LEVELS = { fail: 'Fail', caution: 'Caution', info: 'Info' } as const

export const BASES = {
  computed: 'tire and drive parts',
  'measured-output': 'turns or pulses counted on the road',
  'measured-reading': 'calibrated readings',
} as const

export const STANDINGS = {
  published: 'published',
  'from-memory': 'published, quoted from memory',
  'common-practice': 'common practice',
  derived: 'derived',
  user: 'as stated, not measured',
  measured: 'measured',
} as const

export const KINDS = {
  wheel: '',
  'final-drive': 'final drive',
  'gear-pair': 'gear pair',
  'angle-drive': 'angle drive',
  adapter: 'ratio adapter',
  'transfer-case': 'transfer case',
  'pulse-ring': 'pulse ring',
  'pulse-scaler': 'pulse scaler',
  head: 'head',
} as const

export const left = (head: string, wide = false): Column => ({
  head,
  align: 'left',
  ...(wide ? { wide } : {}),
})
export const right = (head: string): Column => ({ head, align: 'right' })

/** A value, its uncertainty where it has one, and its unit, with no line break between them. */
export const withUnit = (text: string, unit: string) => `${text}\u{A0}${unit}`

/** A speed in both units, the dial's unit first. */
export const speedText = (speed: Speed, unit: Path['unit']) =>
  SPEED_UNITS[unit]
    .map(({ key, name }) => withUnit(figureText(speed[key], speed.plusMinus?.[key], 1), name))
    .join(', ')

/** The resolution of a display in both units. */
export const stepText = (step: Speed, unit: Path['unit']) =>
  SPEED_UNITS[unit].map(({ key, name }) => withUnit(twoDigits(step[key]), name)).join(', ')

export const perDistanceText = ({ perKm, perMile, plusMinus }: PerDistance, what: string) => [
  withUnit(figureText(perKm, plusMinus?.perKm, 1), `${what}/km`),
  withUnit(figureText(perMile, plusMinus?.perMile, 1), `${what}/mile`),
]
