import { Pool } from 'undici'

const quantile = (sorted, q) => sorted[Math.round(q * (sorted.length - 1))]

/** Asks one server as fast as it answers for a while; answers a second of the clock and of the server's CPU time. */
async function slice({ server, pool, request }, clients, forMs) {
  const startCpuS = await server.cpuS()
  const startMs = performance.now()
  let answered = 0
  const client = async () => {
    while (performance.now() - startMs < forMs) {
      const asked = request()
      const { statusCode, body } = await pool.request(asked)
      await body.dump()
      if (statusCode >= 300) throw new Error(`${asked.method} ${asked.path} answered ${statusCode}`)
      answered++
    }
  }
  await Promise.all(Array.from({ length: clients }, client))
  return {
    clock: answered / ((performance.now() - startMs) / 1000),
    cpu: answered / ((await server.cpuS()) - startCpuS),
  }
}

/**
 * Two kinds of request in turns, in slices so short that what else the machine does falls on both.
 *
 * @param by - `cpu`: answers per second of the server's own CPU time; `clock`: per second, for work that waits for a disk
 */
export async function inTurns(measured, floor, { clients, by, rounds = 11, sliceMs = 400 }) {
  const sides = [measured, floor].map((side) => ({
    ...side,
    pool: new Pool(side.server.address, { connections: clients }),
  }))
  for (const side of sides) await slice(side, clients, 2000)
  const ratios = []
  for (let round = 0; round < rounds; round++) {
    const found = new Map()
    for (const side of round % 2 === 0 ? sides : sides.toReversed())
      found.set(side, await slice(side, clients, sliceMs))
    const [one, other] = sides.map((side) => found.get(side)[by])
    ratios.push(one / other)
  }
  await Promise.all(sides.map(({ pool }) => pool.close()))
  const sorted = ratios.toSorted((a, b) => a - b)
  return { ratio: quantile(sorted, 0.5), spread: [quantile(sorted, 0.25), quantile(sorted, 0.75)] }
}
