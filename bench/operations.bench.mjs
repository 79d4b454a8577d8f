// Cost of an operation compared with a bare route of the framework that validates the same body and sends the same bytes.
// Also the same operation with a precomputed answer: its cost without the computation; and that without the log.
// Add an operation: one line below and one in support/duties.mjs; the body is the first example of its request in openapi/openapi.json.
import { exampleOf, start } from './support/child.mjs'
import { dutiesOf } from './support/duties.mjs'
import { inTurns } from './support/turns.mjs'

const OPERATIONS = [
  { path: '/v1/tires/geometry', target: 0.85 },
  { path: '/v1/vehicle-checks', target: 0.6 },
]

const CLIENTS = 32

export default async () => {
  const rows = []
  for (const { path, target } of OPERATIONS) {
    const service = await start('service.mjs', ':memory:')
    const silent = await start('service.mjs', ':memory:', 'silent')
    const bare = await start('bare.mjs', path, service.address)
    const headers = { 'content-type': 'application/json' }
    const asked = { method: 'POST', path, headers, body: exampleOf(path) }
    const side = (server, request = asked) => ({ server, request: () => request })
    try {
      const duties = { ...asked, path: dutiesOf(path) }
      for (const { name, server, request, goal } of [
        { name: `POST ${path}`, server: service, request: asked, goal: { target } },
        { name: `POST ${path}, computing nothing`, server: service, request: duties, goal: {} },
        { name: `POST ${path}, computing and logging nothing`, server: silent, request: duties, goal: {} },
      ]) {
        const { ratio, spread, clockRatio } = await inTurns(side(server, request), side(bare), {
          clients: CLIENTS,
          by: 'cpu',
        })
        rows.push({
          name,
          ratio,
          spread,
          floor: 'bare route: same validation, same bytes',
          ...goal,
          note: `requests a second of the server's own CPU time; by the wall clock ${clockRatio.toFixed(2)}`,
        })
      }
    } finally {
      await Promise.all([service.stop(), silent.stop(), bare.stop()])
    }
  }
  return rows
}
