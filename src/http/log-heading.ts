import { DomainError } from '../domain/errors.js'

/** Settings that the request gives explicitly; the others have their defaults. */
export interface LogSettings {
  readonly content: boolean
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

/** Unit setting implied by a word of a heading; seconds are the default and need none. */
const UNIT_SETTINGS: ReadonlyMap<string, string> = new Map([
  ...['us', 'µs', 'μs', 'usec', 'micros', 'microseconds'].map((word) => [word, 'unit=us'] as const),
  ...['ms', 'msec', 'millis', 'milliseconds'].map((word) => [word, 'unit=ms'] as const),
  ...['tick', 'ticks'].map((word) => [word, 'tickUs to the length of a tick in microseconds'] as const),
])

/** Lower-case words of a heading: both `period_us` and `periodUs` give period and us. */
const wordsOf = (heading: string) =>
  heading
    .replace(/([a-z])([A-Z])/g, '$1 $2')
    .toLowerCase()
    .split(/[^a-zµμ]+/)

/**
 * Refuses a log whose heading names periods or a unit while the request leaves that setting at its default: times in seconds.
 *
 * @throws {DomainError} `log-heading-differs`
 */
export function assertHeadingMatches(heading: string, stated: LogSettings): void {
  const words = wordsOf(heading)
  const wanted: string[] = []
  const fields: string[] = []
  if (!stated.content && words.some((word) => PERIOD_WORDS.has(word))) {
    wanted.push('content=periods (content=times if they are times nevertheless)')
    fields.push('/content')
  }
  const unit = words.map((word) => UNIT_SETTINGS.get(word)).find((setting) => setting !== undefined)
  if (!stated.unit && unit !== undefined) {
    wanted.push(`${unit} (unit=s if they are seconds nevertheless)`)
    fields.push(unit.startsWith('tickUs') ? '/tickUs' : '/unit')
  }
  if (wanted.length === 0) return
  throw new DomainError(
    'log-heading-differs',
    `column ${JSON.stringify(heading.slice(0, 40))}: this name contradicts the default, times in seconds; set ${wanted.join(' and ')}`,
    { in: 'query', pointer: fields[0]!, heading: heading.slice(0, 40) },
  )
}
