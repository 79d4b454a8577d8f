// The floor of a batch: reads the lines, parses each, calls what the service calls, and writes the answer as text. No HTTP, no
// validation, nothing shared with anyone.
import { checkedVehicle } from '../../dist/src/routes/vehicle-check.js'
import { chunksOf } from './batch-lines.mjs'

const noTable = () => undefined

let written = 0

function run(lines) {
  const before = process.cpuUsage()
  for (const chunk of chunksOf(lines)) {
    for (const text of chunk.toString('utf8').split('\n')) {
      if (text === '') continue
      const { vehicle } = JSON.parse(text)
      written += Buffer.from(JSON.stringify({ ok: true, result: checkedVehicle(vehicle, noTable) })).length
    }
  }
  const { user, system } = process.cpuUsage(before)
  return { cpuS: (user + system) / 1e6, written }
}

process.on('message', (lines) => process.send(run(lines)))
process.on('disconnect', () => process.exit(0))
process.send({ address: 'none' })
