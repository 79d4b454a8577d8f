import { isIP } from 'node:net'
import { type Static, type TSchema, Type } from '@sinclair/typebox'

const Settings = Type.Object(
  {
    HOST: Type.String({ default: '127.0.0.1', description: 'Address to listen on.' }),
    PORT: Type.Integer({
      default: 8080,
      minimum: 0,
      maximum: 65_535,
      description: 'Port to listen on; 0 takes a free one.',
    }),
    DATABASE_FILE: Type.String({
      default: 'data/wheel-to-dial.sqlite',
      description: 'The SQLite file.',
    }),
    CORS_ORIGINS: Type.String({
      default: '',
      description: 'Origins whose pages may call the API, separated by commas; * admits every origin.',
    }),
    TRUST_PROXY: Type.String({
      default: '',
      description: 'Addresses of reverse proxies whose X-Forwarded-For is believed, separated by commas.',
    }),
    LOG_LEVEL: Type.Unsafe<'fatal' | 'error' | 'warn' | 'info' | 'debug' | 'trace' | 'silent'>({
      type: 'string',
      enum: ['fatal', 'error', 'warn', 'info', 'debug', 'trace', 'silent'],
      default: 'info',
      description: 'Least level that is logged.',
    }),
    BODY_LIMIT_BYTES: Type.Integer({
      default: 1_048_576,
      minimum: 1024,
      maximum: 67_108_864,
      description:
        'Largest request body [bytes]. Most operations take less: what their schema can fill. Logs, tracks, tables and batches have limits of their own.',
    }),
    BODIES_BYTES: Type.Integer({
      default: 134_217_728,
      minimum: 1_048_576,
      maximum: 1_099_511_627_776,
      description:
        'Most bytes of bodies that are held until their requests are answered; batches hold a line [bytes].',
    }),
    BODIES_BYTES_PER_CALLER: Type.Integer({
      default: 25_165_824,
      minimum: 1_048_576,
      maximum: 1_099_511_627_776,
      description: 'The same of one key, or of one address without a key [bytes].',
    }),
    REQUEST_TIMEOUT_MS: Type.Integer({
      default: 30_000,
      minimum: 100,
      maximum: 3_600_000,
      description: 'Longest time for a request to arrive whole [ms].',
    }),
    HEADERS_TIMEOUT_MS: Type.Integer({
      default: 10_000,
      minimum: 100,
      maximum: 600_000,
      description: 'Longest time for the headers of a request to arrive [ms].',
    }),
    ANSWER_STALL_MS: Type.Integer({
      default: 30_000,
      minimum: 100,
      maximum: 3_600_000,
      description:
        'How long an answer may be left unread before its connection is ended [ms]. BATCH_STALL_MS holds for batches.',
    }),
    RATE_PER_ADDRESS: Type.Integer({
      default: 6_000,
      minimum: 0,
      maximum: 100_000_000,
      description:
        'Most requests a minute of one address without a valid key (IPv6: of one /64), each by its weight; 0: no limit.',
    }),
    RATE_PER_KEY: Type.Integer({
      default: 12_000,
      minimum: 0,
      maximum: 100_000_000,
      description: 'Most requests a minute of one key, each by its weight; 0: no limit.',
    }),
    METRICS: Type.Unsafe<'key' | 'open' | 'off'>({
      type: 'string',
      enum: ['key', 'open', 'off'],
      default: 'key',
      description: 'Who may read GET /metrics: holders of any key, everyone, or nobody (404).',
    }),
    SHED_AFTER_MS: Type.Integer({
      default: 100,
      minimum: 0,
      maximum: 60_000,
      description:
        'Requests that would wait longer than this for their turn, on a service without a pause, are refused with 503 [ms]; 0: none.',
    }),
    SHED_ABOVE_PERCENT: Type.Integer({
      default: 90,
      minimum: 0,
      maximum: 100,
      description: 'Share of its time that the service must have been busy lately before it refuses any [%].',
    }),
    DRAIN_MS: Type.Integer({
      default: 0,
      minimum: 0,
      maximum: 600_000,
      description:
        'After SIGTERM, how long GET /readyz answers 503 while everything else goes on, so that a balancer turns away [ms].',
    }),
    WATCHDOG_S: Type.Integer({
      default: 30,
      minimum: 0,
      maximum: 3600,
      description:
        'How long the thread of the requests may be silent before the process is ended, so that its supervisor starts it anew [s]; 0: no watchdog.',
    }),
    WORKERS: Type.Integer({
      default: 2,
      minimum: 1,
      maximum: 64,
      description: 'Threads for long computations; they start when needed and end when idle.',
    }),
    COMPUTATIONS_PER_CALLER: Type.Integer({
      default: 8,
      minimum: 1,
      maximum: 10_000,
      description:
        'Most long computations at once of one key, or of one address without a key, those that wait for a thread among them.',
    }),
    BATCH_BYTES: Type.Integer({
      default: 1_073_741_824,
      minimum: 1024,
      maximum: 1_099_511_627_776,
      description: 'Largest body of a batch of lines [bytes].',
    }),
    BATCH_LINES: Type.Integer({
      default: 1_000_000,
      minimum: 1,
      maximum: 1_000_000_000,
      description: 'Most lines of a batch, blank ones counted.',
    }),
    BATCH_LINE_BYTES: Type.Integer({
      default: 262_144,
      minimum: 1024,
      maximum: 16_777_216,
      description: 'Longest line of a batch [bytes].',
    }),
    BATCH_STALL_MS: Type.Integer({
      default: 30_000,
      minimum: 100,
      maximum: 3_600_000,
      description:
        'How long the next line of a batch may be waited for, and its answer be left unread [ms]. REQUEST_TIMEOUT_MS does not hold for batches.',
    }),
    BATCH_TIME_MS: Type.Integer({
      default: 3_600_000,
      minimum: 100,
      maximum: 86_400_000,
      description: 'Longest time of a batch [ms].',
    }),
    BATCHES: Type.Integer({
      default: 16,
      minimum: 1,
      maximum: 10_000,
      description: 'Most batches at once; they share the time of one.',
    }),
    BATCHES_PER_CALLER: Type.Integer({
      default: 2,
      minimum: 1,
      maximum: 10_000,
      description: 'Most batches at once of one key, or of one address without a key.',
    }),
  },
  { additionalProperties: false },
)

/** Every setting of the service, read once at the start. */
export interface Config {
  readonly host: string
  readonly port: number
  readonly databaseFile: string
  readonly corsOrigins: readonly string[] | '*'
  readonly trustProxy: readonly string[]
  readonly logLevel: Static<typeof Settings>['LOG_LEVEL']
  readonly bodyLimitBytes: number
  readonly bodiesBytes: { readonly most: number; readonly maxOfOne: number }
  readonly requestTimeoutMs: number
  readonly headersTimeoutMs: number
  readonly answerStallMs: number
  readonly ratePerAddress: number
  readonly ratePerKey: number
  readonly metrics: Static<typeof Settings>['METRICS']
  readonly shedAfterMs: number
  readonly shedAbovePercent: number
  readonly drainMs: number
  readonly watchdogS: number
  readonly workers: { readonly threads: number; readonly maxOfOne: number }
  readonly batches: {
    readonly maxBytes: number
    readonly maxLines: number
    readonly longestLineBytes: number
    readonly stallMs: number
    readonly longestMs: number
    readonly maxBatches: number
    readonly maxBatchesOfOne: number
  }
}

const list = (text: string) =>
  text
    .split(',')
    .map((item) => item.trim())
    .filter((item) => item !== '')

/** Whether the browser sends this text as Origin: a trailing slash or a path would make an entry that never matches. */
function isOrigin(text: string): boolean {
  return URL.canParse(text) && new URL(text).origin === text
}

/** An address, a block of them (10.0.0.0/8), or one of the names for private ranges. */
function isProxy(text: string): boolean {
  const [address = '', bits] = text.split('/')
  const longest = isIP(address) === 6 ? 128 : 32
  return (
    ['loopback', 'linklocal', 'uniquelocal'].includes(text) ||
    (isIP(address) !== 0 && (bits === undefined || (/^\d{1,3}$/.test(bits) && Number(bits) <= longest)))
  )
}

/** What the form of single settings cannot say. */
function* faultsBeyondForm(config: Config): Generator<string> {
  if (config.corsOrigins !== '*') {
    for (const origin of config.corsOrigins) {
      if (!isOrigin(origin))
        yield `CORS_ORIGINS expected origins such as https://club.example:8443, or * alone; got ${origin}`
    }
  }
  for (const proxy of config.trustProxy) {
    if (!isProxy(proxy)) yield `TRUST_PROXY expected addresses or blocks such as 10.0.0.0/8; got ${proxy}`
  }
  if (config.headersTimeoutMs > config.requestTimeoutMs) {
    yield `HEADERS_TIMEOUT_MS expected at most REQUEST_TIMEOUT_MS (${config.requestTimeoutMs}); got ${config.headersTimeoutMs}`
  }
}

/** @throws {Error} when there are faults */
function refuse(faults: readonly string[]): void {
  if (faults.length > 0) throw new Error(`environment: ${faults.join('; ')}`)
}

/** What a setting stands for, or undefined when it is not what the setting takes. */
function settingOf({ type, minimum, maximum, enum: words }: TSchema, text: string): unknown {
  if (type === 'integer') {
    const value = text.trim() === '' ? Number.NaN : Number(text)
    return Number.isInteger(value) && value >= minimum && value <= maximum ? value : undefined
  }
  return words === undefined || words.includes(text) ? text : undefined
}

/** What a setting takes, in words. */
const expected = ({ type, minimum, maximum, enum: words }: TSchema): string =>
  type === 'integer' ? `a whole number from ${minimum} to ${maximum}` : `one of ${words.join(', ')}`

/**
 * Reads the settings from the environment; what is absent or empty takes its default.
 *
 * @throws {Error} naming each variable that is wrong and what it takes
 */
export function readConfig(environment: NodeJS.ProcessEnv): Config {
  const settings: Record<string, unknown> = {}
  const faults: string[] = []
  // Not by a validator of schemas: to compile this one would take an eighth of the start.
  for (const [name, schema] of Object.entries(Settings.properties)) {
    const text = environment[name] ?? ''
    settings[name] = text === '' ? schema.default : settingOf(schema, text)
    if (settings[name] === undefined) faults.push(`${name} expected ${expected(schema)}; got ${text}`)
  }
  refuse(faults)
  const read = settings as Static<typeof Settings>
  const config: Config = {
    host: read.HOST,
    port: read.PORT,
    databaseFile: read.DATABASE_FILE,
    corsOrigins: read.CORS_ORIGINS.trim() === '*' ? '*' : list(read.CORS_ORIGINS),
    trustProxy: list(read.TRUST_PROXY),
    logLevel: read.LOG_LEVEL,
    bodyLimitBytes: read.BODY_LIMIT_BYTES,
    bodiesBytes: { most: read.BODIES_BYTES, maxOfOne: read.BODIES_BYTES_PER_CALLER },
    requestTimeoutMs: read.REQUEST_TIMEOUT_MS,
    headersTimeoutMs: read.HEADERS_TIMEOUT_MS,
    answerStallMs: read.ANSWER_STALL_MS,
    ratePerAddress: read.RATE_PER_ADDRESS,
    ratePerKey: read.RATE_PER_KEY,
    metrics: read.METRICS,
    shedAfterMs: read.SHED_AFTER_MS,
    shedAbovePercent: read.SHED_ABOVE_PERCENT,
    drainMs: read.DRAIN_MS,
    watchdogS: read.WATCHDOG_S,
    workers: { threads: read.WORKERS, maxOfOne: read.COMPUTATIONS_PER_CALLER },
    batches: {
      maxBytes: read.BATCH_BYTES,
      maxLines: read.BATCH_LINES,
      longestLineBytes: read.BATCH_LINE_BYTES,
      stallMs: read.BATCH_STALL_MS,
      longestMs: read.BATCH_TIME_MS,
      maxBatches: read.BATCHES,
      maxBatchesOfOne: read.BATCHES_PER_CALLER,
    },
  }
  refuse([...faultsBeyondForm(config)])
  return config
}

/** Name, default and meaning of every variable, for the documentation. */
export const SETTINGS: ReadonlyArray<{ name: string; default: string; meaning: string }> = Object.entries(
  Settings.properties,
).map(([name, schema]) => ({
  name,
  default: String(schema.default),
  meaning: String(schema.description),
}))
