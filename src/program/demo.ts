import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { buildApp } from '../app.js'
import type { Config } from '../config.js'
import type { Store } from '../db/store.js'
import { PROGRAM_FOLDER } from '../version.js'
import { curl, withSetting } from './calls.js'
import { type Command, type Surroundings, words } from './command.js'
import { settingsOf } from './settings.js'

const CLUB = 'Teasel Valley Motor Club'

/** Folder of the examples. */
const EXAMPLES = join(PROGRAM_FOLDER, 'examples')

/** Fills an empty store through the API, and prints calls worth trying. */
async function fill(
  store: Store,
  config: Config,
  { clock, print, warn, callOf }: Surroundings,
): Promise<number> {
  const first = await store.keys.createFirst('demo', CLUB, 'demo key')
  if (first === undefined) {
    warn(`${config.databaseFile} is in use: the demo fills an empty store only. Name another file, for example
  ${withSetting('DATABASE_FILE', 'data/demo.sqlite', callOf('demo'))}`)
    return 1
  }
  const app = await buildApp({ config: { ...config, ratePerKey: 0 }, store, clock })
  const send = async (url: string, type: string, payload: string) => {
    const headers = { authorization: `Bearer ${first.secret}`, 'content-type': type }
    const answer = await app.inject({ method: 'POST', url, headers, payload })
    if (answer.statusCode >= 300) throw new Error(`${url}: ${answer.body}`)
    return answer.json()
  }
  const read = (file: string) => readFileSync(join(EXAMPLES, file), 'utf8')
  try {
    const vehicles: string[] = []
    for (const file of readdirSync(join(EXAMPLES, 'vehicles')).sort()) {
      vehicles.push((await send('/v1/vehicles', 'application/json', read(`vehicles/${file}`))).id)
    }
    const counts: string[] = [`${vehicles.length} vehicles`]
    for (const table of ['parts', 'fits', 'tire-sizes']) {
      const { created } = await send(`/v1/${table}/import`, 'text/csv', read(`demo/${table}.csv`))
      counts.push(`${created} ${table}`)
    }
    print(`${CLUB}: ${counts.join(', ')} in ${config.databaseFile}. Its key, shown this once:

  ${first.secret}

Start the service on that file with

  ${withSetting('DATABASE_FILE', config.databaseFile, callOf('serve'))}

then try

${calls(`http://${config.host}:${config.port}`, first.secret, vehicles[0]!)
  .map(([what, call]) => `  # ${what}\n  ${call}`)
  .join('\n')}`)
    return 0
  } finally {
    await app.close()
  }
}

/** Five calls and what each shows. */
function calls(address: string, secret: string, vehicle: string): ReadonlyArray<readonly [string, string]> {
  const cable = '0199a000-0000-7000-8000-000000000006'
  return [
    [
      'What the dial of a saloon reads after its axle was changed, and which recorded gear puts it right.',
      curl(`${address}/v1/vehicles/${vehicle}/check`, { headers: [`authorization: Bearer ${secret}`] }),
    ],
    [
      'What is known to fit it: reports that contradict each other stand side by side.',
      curl(`${address}/v1/fits?make=tarvenna&model=ostrel&kind=driven-gear`),
    ],
    [
      'Parts that a cable may go on: candidates with their deviation, not proven.',
      curl(`${address}/v1/parts/${cable}/candidates?tolerance=0.5`),
    ],
    [
      'Pulse rings for four bolts on 78 mm.',
      curl(`${address}/v1/parts?bolts=4&circleDiameter=78&kind=pulse-ring`),
    ],
    ['A tire size that no formula gives, measured by the club.', curl(`${address}/v1/tires?size=G78-15`)],
  ]
}

export const demo: Command = {
  summary: 'fills a new database with an invented club, and prints calls worth trying',
  usage: (call) => `Fills the new or empty database in DATABASE_FILE with the vehicles, parts, fit
reports and tire sizes of an invented club, and prints calls worth trying.

  ${call()}`,
  async run(args, surroundings) {
    words(args, 0)
    const config = settingsOf(surroundings)
    const store = surroundings.openStore(config.databaseFile)
    try {
      return await fill(store, config, surroundings)
    } finally {
      await store.close()
    }
  },
}
