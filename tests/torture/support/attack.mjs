// Attacks a server from a process of its own, until its parent disconnects: node attack.mjs ADDRESS EXPIRED_KEY ATTACK...
// Says 'begun' when all its connections stand, and at each message how many do and what was answered.
import { once } from 'node:events'
import { connect } from 'node:net'
import { constants, setPriority } from 'node:os'
import { Crowd } from '../../../bench/support/crowd.mjs'

const PIPELINED = 100_000
const SLOW_READERS = 300
const HALF_OPEN = 2000
const EXPIRED = 50

const LIVEZ = 'GET /livez HTTP/1.1\r\nHost: x\r\n\r\n'
const DOCUMENT = 'GET /openapi.json HTTP/1.1\r\nHost: x\r\n\r\n'
const HALF_HEAD = 'GET /v1/units HTTP/1.1\r\nHost: x\r\n'
const HALF_BODY =
  'POST /v1/vehicle-checks HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 5000\r\n\r\n{"'

/** How long it waits before it connects again where the server has hung up [ms]. */
const AGAIN_MS = 1000

const [address, expiredKey, ...attacks] = process.argv.slice(2)
const port = Number(new URL(address).port)

// It gets the processor when others do not want it: what they lose, they lose to the service and not to this.
setPriority(constants.priority.PRIORITY_BELOW_NORMAL)

let connections = 0
let bytesRead = 0
let crowd

/** A connection that is made again when the server hangs up; what it does is done each time. */
async function keepOpen(begin) {
  const socket = connect(port, '127.0.0.1')
  socket.on('error', () => {})
  socket.on('close', () => setTimeout(() => keepOpen(begin), AGAIN_MS))
  await once(socket, 'connect')
  connections++
  socket.on('close', () => connections--)
  begin(socket)
}

const many = (count, begin) =>
  Promise.all(Array.from({ length: count }, (_, n) => keepOpen((socket) => begin(socket, n))))

const ATTACKS = {
  /** As fast as they are refused. */
  'expired keys': () => {
    const headers = { authorization: `Bearer ${expiredKey}` }
    crowd = new Crowd(address, { method: 'GET', path: '/v1/vehicles', headers })
    crowd.closedLoop(EXPIRED, 3600)
  },
  /** A long answer thrice, and nothing of it is taken. */
  'slow readers': () =>
    many(SLOW_READERS, (socket) => {
      socket.pause()
      socket.write(DOCUMENT.repeat(3))
    }),
  /** In one go, by a client that reads nothing and by one that reads all, and then sends as many again. */
  pipelined: () => {
    const flood = Buffer.from(LIVEZ.repeat(PIPELINED))
    return many(2, (socket, n) => {
      const pour = () => socket.write(flood, pour)
      pour()
      if (n === 0) socket.pause()
      else
        socket.on('data', (chunk) => {
          bytesRead += chunk.length
        })
    })
  },
  /** Half of them stop in the headers, half in the body. */
  'half-open': () => many(HALF_OPEN, (socket, n) => socket.write(n % 2 === 0 ? HALF_HEAD : HALF_BODY)),
}

process.on('message', () =>
  process.send({
    connections: connections + (crowd?.callers.size ?? 0),
    bytesRead,
    refused: crowd?.statuses ?? {},
  }),
)
process.on('disconnect', () => process.exit(0))
await Promise.all(attacks.map((attack) => ATTACKS[attack]()))
process.send('begun')
