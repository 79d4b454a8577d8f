import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { vehicleInput } from '../src/border/saved-vehicles.js'
import type { Store } from '../src/db/store.js'
import type { VehicleProfileShape } from '../src/schemas/vehicles.js'

const ACTOR = 'demo'
const CLUB = 'Lamp Post Motor Club'

export interface DemoContext {
  readonly store: Store
  /** Root of the project: the vehicles are those of its examples. */
  readonly root: string
  /** Where the service will be asked. */
  readonly address: string
  readonly print: (line: string) => void
}

function exampleProfiles(root: string): VehicleProfileShape[] {
  const folder = join(root, 'examples/vehicles')
  return readdirSync(folder)
    .sort()
    .map((name) => JSON.parse(readFileSync(join(folder, name), 'utf8')))
}

const calls = (address: string, secret: string, id: string, reference: string) => {
  const curl = (what: string, path: string, rest = '') =>
    `# ${what}\ncurl -s ${address}${path} -H 'authorization: Bearer ${secret}'${rest}\n`
  const json = (body: string) => ` -H 'content-type: application/json' -d '${body}'`
  return [
    curl('the vehicles of the club', '/v1/vehicles?make=marlin'),
    curl('what the dial of the Marlin reads, and what would put it right', `/v1/vehicles/${id}/check`),
    curl(
      'fit the driven gear that the check proposes: a change names the version that it was made on',
      `/v1/vehicles/${id}`,
      ` -X PATCH -H 'if-match: "1"'${json('{"notes":"Driven gear of 22 teeth fitted.","paths":[{"name":"speedometer","axle":"rear","stages":[{"kind":"final-drive","ring":37,"pinion":9},{"kind":"gear-pair","name":"speedometer drive","teeth":{"driving":6,"driven":22}}],"head":{"takes":"turns","constant":{"perMile":1000},"unit":"mph","dialMax":{"mph":100}}}]}')}`,
    ),
    curl('who changed it when', `/v1/vehicles/${id}/revisions`),
    curl('the one with a job number', `/v1/vehicles?reference=${encodeURIComponent(reference)}`),
  ]
}

/**
 * Fills an empty store with an invented club and its vehicles, and prints five calls worth trying.
 *
 * @returns The exit status: 0, or 1 when the store is not empty
 */
export async function fillDemo({ store, root, address, print }: DemoContext): Promise<number> {
  if ((await store.accounts.list()).length > 0) {
    print('the database is not empty: name a new DATABASE_FILE for the demonstration')
    return 1
  }
  await store.accounts.create(ACTOR, CLUB)
  const issued = await store.keys.create(ACTOR, { account: CLUB, label: 'demonstration', role: 'editor' })
  const { record, secret } = issued!
  const author = { accountId: record.accountId, keyId: record.id }
  const kept = new Map<string, string>()
  for (const profile of exampleProfiles(root)) {
    const done = await store.vehicles.create(author, vehicleInput(profile))
    if (done.outcome === 'created') kept.set(profile.reference ?? '', done.vehicle.id)
    print(`kept ${profile.name}`)
  }
  print(`\nof ${CLUB}. Start the service on the same DATABASE_FILE (npm start), then:\n`)
  for (const call of calls(address, secret, kept.get('JOB-1042')!, 'SHOP/2031')) print(call)
  return 0
}
