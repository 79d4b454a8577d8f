// Another caller of the service in its own process: sends small requests at a steady rate and reports how long it waited.
import { constants, setPriority } from 'node:os'
import { Pool } from 'undici'
import { exampleOf } from './child.mjs'

const [address] = process.argv.slice(2)
const EVERY_MS = 10
// From a different address, so that it counts as another caller.
const pool = new Pool(address, { connections: 8, localAddress: '127.0.0.2' })
const ASKED = [
  { method: 'GET', path: '/v1/tires?size=165R13' },
  {
    method: 'POST',
    path: '/v1/tires/geometry',
    headers: { 'content-type': 'application/json' },
    body: exampleOf('/v1/tires/geometry'),
  },
]

// What it waits for is to be the service, not the processor that reads the batch beside it; where that is not allowed, it is both.
try {
  setPriority(constants.priority.PRIORITY_HIGHEST)
} catch {}

let waits = []
let next = 0
setInterval(async () => {
  const startMs = performance.now()
  const { statusCode, body } = await pool.request(ASKED[next++ % ASKED.length])
  await body.dump()
  if (statusCode !== 200) throw new Error(`answered ${statusCode}`)
  waits.push(performance.now() - startMs)
}, EVERY_MS)

process.on('message', () => {
  const sorted = waits.toSorted((a, b) => a - b)
  waits = []
  const at = (q) => sorted[Math.floor(q * (sorted.length - 1))]
  process.send({ requests: sorted.length, p50Ms: at(0.5), p99Ms: at(0.99), maxMs: at(1) })
})
process.on('disconnect', () => process.exit(0))
process.send({ address })
