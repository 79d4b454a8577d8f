// What an operation costs beside a bare route of the framework that validates the same body and answers the same bytes.
// Add an operation: one line below; the body is the first example of its request in openapi/openapi.json.
import { alternate } from './support/alternate.mjs'
import { start } from './support/child.mjs'

const OPERATIONS = [
  { path: '/v1/tires/geometry', target: 0.85 },
  { path: '/v1/vehicle-checks', target: 0.6 },
]

export default async () => {
  const rows = []
  for (const { path, target } of OPERATIONS) {
    const service = await start('service.mjs', ':memory:')
    const bare = await start('bare.mjs', path, service.address)
    try {
      const { ratio, spread, wallRatio } = await alternate(service, bare, path)
      rows.push({
        name: `POST ${path}`,
        ratio,
        spread,
        floor: 'bare route: same validation, same bytes',
        target,
        note: `requests a second of the server's own CPU time; by the wall clock ${wallRatio.toFixed(2)}`,
      })
    } finally {
      await Promise.all([service.stop(), bare.stop()])
    }
  }
  return rows
}
