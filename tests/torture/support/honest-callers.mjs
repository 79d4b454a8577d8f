// Asks a server for ordinary things at a steady rate from a process of its own, from addresses of its own: node honest-callers.mjs ADDRESS KEY.
// Each message { seconds } is answered with what was got.
import { constants, setPriority } from 'node:os'
import { Crowd } from '../../../bench/support/crowd.mjs'

/** Requests a second of each of the two: far from all that the service can do, so that alone they get everything. */
const PER_SECOND = 25

const [address, key] = process.argv.slice(2)

// What they wait for is to be the service, not the processor that others use; where that is not allowed, it is both.
try {
  setPriority(constants.priority.PRIORITY_HIGHEST)
} catch {}

const crowds = [
  new Crowd(address, {
    method: 'GET',
    path: '/v1/vehicles',
    headers: { authorization: `Bearer ${key}` },
    from: '127.0.0.2',
  }),
  new Crowd(address, {
    path: '/v1/tires/geometry',
    body: JSON.stringify({ tire: { size: '195/70R14' } }),
    from: '127.0.0.3',
  }),
]

process.on('message', async ({ seconds }) => {
  const found = await Promise.all(crowds.map((crowd) => crowd.openLoop(PER_SECOND, seconds)))
  process.send(found)
})
process.on('disconnect', () => process.exit(0))
process.send('ready')
