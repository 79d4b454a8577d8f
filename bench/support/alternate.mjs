import { Pool } from 'undici'
import { exampleOf } from './child.mjs'

const ROUNDS = 9
const SLICE_MS = 400
const WARM_UP_MS = 2500
const CONNECTIONS = 32
const PIPELINED = 1

/** Asks one server as fast as it answers for a while; requests a second of its CPU time, and of the clock. */
async function slice(pool, server, path, body, forMs) {
  const options = { method: 'POST', path, headers: { 'content-type': 'application/json' }, body }
  const cpuS = await server.cpuS()
  const startMs = performance.now()
  let answered = 0
  const ask = async () => {
    while (performance.now() - startMs < forMs) {
      const { statusCode, body: answer } = await pool.request(options)
      await answer.dump()
      if (statusCode !== 200) throw new Error(`${path} answered ${statusCode}`)
      answered++
    }
  }
  // Awake all the while: to wake a sleeping client costs the server more than many an answer, and a slower server meets
  // more sleep.
  let asking = true
  const stayAwake = () => {
    if (asking) setImmediate(stayAwake)
  }
  stayAwake()
  await Promise.all(Array.from({ length: CONNECTIONS * PIPELINED }, ask))
  asking = false
  const wallS = (performance.now() - startMs) / 1000
  return { perCpuS: answered / ((await server.cpuS()) - cpuS), perWallS: answered / wallS }
}

const quantile = (sorted, q) => sorted[Math.round(q * (sorted.length - 1))]

/**
 * Asks two servers in turns, in slices so short that what else the machine does falls on both.
 *
 * The ratio is that of requests per second of the server's own CPU time: that of a server that has a core to itself, however
 * busy the machine and however slow the client.
 */
export async function alternate(measured, floor, path) {
  const body = exampleOf(path)
  const sides = [measured, floor].map((server) => ({
    server,
    pool: new Pool(server.address, { connections: CONNECTIONS, pipelining: PIPELINED }),
  }))
  const run = ({ server, pool }, forMs) => slice(pool, server, path, body, forMs)
  for (const side of sides) await run(side, WARM_UP_MS)
  const ratios = []
  const wallRatios = []
  for (let round = 0; round < ROUNDS; round++) {
    // Each goes first every other time.
    const order = round % 2 === 0 ? sides : sides.toReversed()
    const found = new Map()
    for (const side of order) found.set(side, await run(side, SLICE_MS))
    const [one, other] = sides.map((side) => found.get(side))
    ratios.push(one.perCpuS / other.perCpuS)
    wallRatios.push(one.perWallS / other.perWallS)
  }
  await Promise.all(sides.map(({ pool }) => pool.close()))
  const ascending = (values) => values.toSorted((a, b) => a - b)
  const sorted = ascending(ratios)
  return {
    ratio: quantile(sorted, 0.5),
    spread: [quantile(sorted, 0.25), quantile(sorted, 0.75)],
    wallRatio: quantile(ascending(wallRatios), 0.5),
  }
}
