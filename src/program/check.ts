import { readFile } from 'node:fs/promises'
import { parseArgs } from 'node:util'
import type { Static } from '@sinclair/typebox'
import { buildApp } from '../app.js'
import { readConfig } from '../config.js'
import { figureText } from '../paper/numbers.js'
import type { Problem } from '../schemas/problems.js'
import type { VehicleCheckShape } from '../schemas/vehicle-checks.js'
import { type Command, type Surroundings, wordOf } from './command.js'

const NOT_MET = 1
const NOT_CHECKED = 2
const NOT_PROVEN = 3

type Path = VehicleCheckShape['paths'][number]
type Verdict = Path['verdicts'][number]

const percentText = (percent: number, plusMinus: number | undefined) =>
  `${percent < 0 ? 'under' : 'over'}-reads by ${figureText(Math.abs(percent), plusMinus, 1)} %`

const speedText = ({ kmh, mph }: NonNullable<Verdict['at']>) =>
  `${figureText(kmh, undefined, 1)} km/h (${figureText(mph, undefined, 1)} mph)`

/** A path as one line, and one for each verdict. */
function pathLines({
  name,
  indicatedPerTrue,
  odometerErrorPercent,
  odometerErrorPlusMinusPercent,
  ...path
}: Path) {
  const { value, plusMinus } = indicatedPerTrue
  const errorPercent = (value - 1) * 100
  const dial = percentText(errorPercent, plusMinus * 100)
  const odometer = percentText(odometerErrorPercent, odometerErrorPlusMinusPercent)
  const verdictLine = ({ rule, result, probability, at }: Verdict) =>
    `  ${rule}: ${result.replaceAll('-', ' ')}, probability ${probability.toFixed(2)}${at === undefined ? '' : ` at a true ${speedText(at)}`}`
  return [`${name}: ${dial}; odometer ${odometer}`, ...path.verdicts.map(verdictLine)]
}

const shortForm = ({ paths, findings, remedies }: VehicleCheckShape) =>
  [
    ...paths.flatMap(pathLines),
    ...findings.map(({ level, pointer, text, remedy }) =>
      [`${level} ${pointer}: ${text}`, ...(remedy === undefined ? [] : [remedy])].join(' '),
    ),
    ...remedies.map(({ pointer, text }) => `remedy ${pointer}: ${text}`),
  ]
    .join('\n')
    .replaceAll('\u{A0}', ' ')

function statusOf({ findings }: VehicleCheckShape): number {
  if (findings.some(({ level }) => level === 'fail')) return NOT_MET
  return findings.some(({ code }) => code.endsWith('rule-not-proven')) ? NOT_PROVEN : 0
}

/** The answer of a service with an empty store to a profile. */
async function answerTo(profile: Buffer, { clock, openStore }: Surroundings) {
  const store = openStore(':memory:')
  const app = await buildApp({ config: readConfig({}), store, clock })
  try {
    return await app.inject({
      method: 'POST',
      url: '/v1/vehicle-checks',
      headers: { 'content-type': 'application/json' },
      payload: profile,
    })
  } finally {
    await app.close()
    await store.close()
  }
}

export const check: Command = {
  summary: 'checks one vehicle profile, without a service',
  usage: (call) => `Checks one vehicle profile without a service, as POST /v1/vehicle-checks does on an
empty database: it knows no recorded parts and tire sizes. The problems of an invalid profile are printed
to stderr, each with its field.

  ${call('FILE')}
      prints the JSON of the answer; a FILE of - is stdin
  ${call('--short FILE')}
      prints a line for each path, verdict, finding and remedy instead

Exit status: 0 every rule is met; 1 a rule is not met, or something does not work (a finding of level fail);
2 the profile is invalid or cannot be read; 3 a rule is not proven to be met.`,
  async run(args, surroundings) {
    const { values, positionals } = parseArgs({
      args: [...args],
      options: { short: { type: 'boolean', default: false } },
      allowPositionals: true,
    })
    const file = wordOf('FILE', positionals)
    let profile: Buffer
    try {
      profile = file === '-' ? await surroundings.readStdin() : await readFile(file)
    } catch (error) {
      surroundings.warn(`${file} cannot be read: ${(error as Error).message}`)
      return NOT_CHECKED
    }
    const answer = await answerTo(profile, surroundings)
    if (!values.short) surroundings.print(answer.body)
    if (answer.statusCode !== 200) {
      const { detail, errors = [] } = answer.json<Static<typeof Problem>>()
      const faults = errors.map((fault) => `${fault.pointer}: ${fault.detail}`)
      for (const line of faults.length > 0 ? faults : [detail]) surroundings.warn(line)
      return NOT_CHECKED
    }
    const result = answer.json<VehicleCheckShape>()
    if (values.short) surroundings.print(shortForm(result))
    return statusOf(result)
  },
}
