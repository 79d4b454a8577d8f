import { Pool } from 'undici'

const quantile = (values, q) => {
  const sorted = values.toSorted((a, b) => a - b)
  return sorted[Math.round(q * (sorted.length - 1))]
}

/** Asks one server as fast as it answers for a while; answers a second of the clock and of the server's CPU time. */
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
  // Awake all the while: to wake a sleeping client costs the server more CPU time than many an answer, and a slower server
  // meets more sleep.
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
 * Two kinds of request in turns, in slices so short that what else the machine does falls on both.
 *
 * @param by - `cpu`: answers per second of the server's own CPU time, as of a server that has a core to itself however busy the
 *   machine and slow the client; `clock`: per second, for work that waits for a disk
 * @returns Middle and middle half of the ratios, and the middle by the clock
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
    // Each goes first every other time.
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
