import { Pool } from 'undici'

const quantile = (values, q) => {
  const sorted = values.toSorted((a, b) => a - b)
  return sorted[Math.round(q * (sorted.length - 1))]
}

/** Sends requests to one server in a closed loop; answers per second of elapsed time and of the CPU time of the server. */
async function slice({ server, pool, request }, { clients, by }, forMs) {
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
  // Busy all the time: waking a sleeping client costs the server more CPU time than many answers do, and a slower server
  // would find it sleeping more often.
  let asking = by === 'cpu'
  const stayAwake = () => {
    if (asking) setImmediate(stayAwake)
  }
  stayAwake()
  await Promise.all(Array.from({ length: clients }, client))
  asking = false
  return {
    clock: answered / ((performance.now() - startMs) / 1000),
    cpu: answered / ((await server.cpuS()) - startCpuS),
  }
}

/**
 * Alternates two kinds of request in slices so short that other load on the machine affects both equally.
 *
 * @param by - `cpu`: answers per second of the server's own CPU time, as of a server that has a core to itself however busy the
 *   machine and slow the client; `clock`: per second, for work that waits for a disk
 * @returns Median and quartiles of the ratios, and the median by elapsed time
 */
export async function inTurns(measured, floor, { clients, by, rounds = 11, sliceMs = 400, warmUpMs = 2500 }) {
  const sides = [measured, floor].map((side) => ({
    ...side,
    pool: new Pool(side.server.address, { connections: clients }),
  }))
  for (const side of sides) await slice(side, { clients, by }, warmUpMs)
  const ratios = { clock: [], cpu: [] }
  for (let round = 0; round < rounds; round++) {
    const found = new Map()
    // Each is first in every other round.
    for (const side of round % 2 === 0 ? sides : sides.toReversed())
      found.set(side, await slice(side, { clients, by }, sliceMs))
    const [one, other] = sides.map((side) => found.get(side))
    ratios.clock.push(one.clock / other.clock)
    ratios.cpu.push(one.cpu / other.cpu)
  }
  await Promise.all(sides.map(({ pool }) => pool.close()))
  return {
    ratio: quantile(ratios[by], 0.5),
    spread: [quantile(ratios[by], 0.25), quantile(ratios[by], 0.75)],
    clockRatio: quantile(ratios.clock, 0.5),
  }
}
