import { DomainError } from '../domain/errors.js'

/** What the request itself said of the values; what it left out is taken by default. */
export interface LogStated {
  readonly holds: boolean
  readonly unit: boolean
}

const PERIOD_WORDS: ReadonlySet<string> = new Set([
  'period',
  'periods',
  'interval',
  'intervals',
  'delta',
  'dt',
])

/** Setting of the unit that a word of a heading asks for; seconds are the default and need none. */
const UNIT_SETTINGS: ReadonlyMap<string, string> = new Map([
  ...['us', 'µs', 'μs', 'usec', 'micros', 'microseconds'].map((word) => [word, 'unit=us'] as const),
  ...['ms', 'msec', 'millis', 'milliseconds'].map((word) => [word, 'unit=ms'] as const),
  ...['tick', 'ticks'].map((word) => [word, 'tickUs to the length of a tick in microseconds'] as const),
])

/** Words of a heading, in small letters: `period_us` and `periodUs` alike are period and us. */
const wordsOf = (heading: string) =>
  heading
    .replace(/([a-z])([A-Z])/g, '$1 $2')
    .toLowerCase()
    .split(/[^a-zµμ]+/)

/**
 * Refuses a log whose heading names periods or a unit while the request leaves that setting to its default: times in seconds.
 *
 * @throws {DomainError} `log-heading-differs`
 */
export function heedHeading(heading: string, stated: LogStated): void {
  const words = wordsOf(heading)
  const wanted: string[] = []
  const fields: string[] = []
  if (!stated.holds && words.some((word) => PERIOD_WORDS.has(word))) {
    wanted.push('holds=periods (holds=times if they are times all the same)')
    fields.push('/holds')
  }
  const unit = words.map((word) => UNIT_SETTINGS.get(word)).find((setting) => setting !== undefined)
  if (!stated.unit && unit !== undefined) {
    wanted.push(`${unit} (unit=s if they are seconds all the same)`)
    fields.push(unit.startsWith('tickUs') ? '/tickUs' : '/unit')
  }
  if (wanted.length === 0) return
  throw new DomainError(
    'log-heading-differs',
    `column ${JSON.stringify(heading.slice(0, 40))}: its name does not go with times in seconds, which is what a column holds unless the request says otherwise; set ${wanted.join(' and ')}`,
    { in: 'query', pointer: fields[0]!, heading: heading.slice(0, 40) },
  )
}
