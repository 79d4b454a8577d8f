// All cores: what two processes of the service answer compared with one, and how long the start takes. The load comes from this
// process and takes a part of the same cores; each note says how much.
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { exampleOf } from './support/child.mjs'
import { Crowd } from './support/crowd.mjs'

const root = join(import.meta.dirname, '..')
const PROCESSES = 2
const ROUNDS = 9
const SLICE_S = 1.5
const WARM_UP_S = 3
const STARTS = 9
const TICKS_A_SECOND = 100

const quantile = (values, q) => values.toSorted((a, b) => a - b)[Math.round(q * (values.length - 1))]

/** Starts the built service; resolves once it has printed its address. */
async function start(processes, file) {
  const bornMs = performance.now()
  const child = spawn(process.execPath, ['dist/start/server.js'], {
    cwd: root,
    env: {
      ...process.env,
      PORT: '0',
      PROCESSES: String(processes),
      RATE_PER_ADDRESS: '0',
      RATE_PER_KEY: '0',
      SHED_AFTER_MS: '0',
      LOG_LEVEL: 'warn',
      DATABASE_FILE: file,
    },
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  let printed = ''
  child.stdout.on('data', (chunk) => {
    printed += chunk
  })
  while (!printed.includes('listens on')) await once(child.stdout, 'data')
  const startMs = performance.now() - bornMs
  return {
    startMs,
    address: /listens on (\S+)\./.exec(printed)[1],
    /** Key of a new file. */
    async secret() {
      for (;;) {
        const secret = /wtd_[\w-]{43}/.exec(printed)?.[0]
        if (secret !== undefined) return secret
        await once(child.stdout, 'data')
      }
    },
    /** CPU time of all its processes [s], where the system tells it. */
    cpuS() {
      const children = `/proc/${child.pid}/task/${child.pid}/children`
      if (!existsSync(children)) return Number.NaN
      const pids = [child.pid, ...readFileSync(children, 'utf8').split(' ').filter(Boolean)]
      const ticks = pids.map((pid) => {
        const [, , ...fields] = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ').at(-1).split(' ')
        return Number(fields[9]) + Number(fields[10])
      })
      return ticks.reduce((sum, one) => sum + one, 0) / TICKS_A_SECOND
    },
    async stop() {
      const exited = once(child, 'exit')
      child.kill('SIGTERM')
      await exited
    },
  }
}

async function slice({ service, crowd }, clients, seconds) {
  const before = { serviceS: service.cpuS(), own: process.cpuUsage(), ms: performance.now() }
  const { perSecond } = await crowd.closedLoop(clients, seconds)
  const elapsedS = (performance.now() - before.ms) / 1000
  const { user, system } = process.cpuUsage(before.own)
  return {
    perSecond,
    cores: (service.cpuS() - before.serviceS) / elapsedS,
    ownCores: (user + system) / 1e6 / elapsedS,
  }
}

/** Answers per second of several processes compared with those of one, in turns. */
async function compare(name, target, folder, clients, requestOf) {
  const sides = []
  for (const processes of [1, PROCESSES]) {
    const service = await start(processes, join(folder, `${name.replaceAll('/', '-')} ${processes}.sqlite`))
    sides.push({ service, crowd: new Crowd(service.address, await requestOf(service)), found: [] })
  }
  for (const side of sides) await slice(side, clients, WARM_UP_S)
  for (let round = 0; round < ROUNDS; round++) {
    for (const side of round % 2 === 0 ? sides : sides.toReversed())
      side.found.push(await slice(side, clients, SLICE_S))
  }
  for (const { service, crowd } of sides) {
    crowd.close()
    await service.stop()
  }
  const [one, several] = sides.map(({ found }) => found)
  const ratios = one.map(({ perSecond }, round) => several[round].perSecond / perSecond)
  const middle = (found, key) =>
    quantile(
      found.map((slice) => slice[key]),
      0.5,
    )
  const cores = (found) =>
    `${middle(found, 'cores').toFixed(2)} cores and the load ${middle(found, 'ownCores').toFixed(2)}`
  return {
    name: `${name}, ${PROCESSES} processes`,
    ratio: quantile(ratios, 0.5),
    spread: [quantile(ratios, 0.25), quantile(ratios, 0.75)],
    floor: 'the same by one process',
    target,
    note: `${clients} clients; one took ${cores(one)}, ${PROCESSES} took ${cores(several)}`,
  }
}

async function starts(folder) {
  const file = join(folder, 'start.sqlite')
  await (await start(1, file)).stop()
  const took = new Map([1, PROCESSES].map((processes) => [processes, []]))
  for (let round = 0; round < STARTS; round++) {
    for (const [processes, found] of took) {
      const service = await start(processes, file)
      found.push(service.startMs)
      await service.stop()
    }
  }
  const [one, several] = [...took.values()]
  const ratios = one.map((ms, round) => ms / several[round])
  return {
    name: `start until listening, ${PROCESSES} processes`,
    ratio: quantile(ratios, 0.5),
    spread: [quantile(ratios, 0.25), quantile(ratios, 0.75)],
    floor: 'the same of one process',
    target: 0.83,
    note: `medians ${quantile(several, 0.5).toFixed(0)} ms and ${quantile(one, 0.5).toFixed(0)} ms`,
  }
}

export default async () => {
  const folder = mkdtempSync(join(tmpdir(), 'wheel-to-dial-bench-'))
  const post = (path) => () => ({ path, body: exampleOf(path) })
  const profile = JSON.stringify({ ...JSON.parse(exampleOf('/v1/vehicle-checks')), reference: undefined })
  const insert = async (service) => ({
    path: '/v1/vehicles',
    body: profile,
    headers: { authorization: `Bearer ${await service.secret()}` },
  })
  try {
    return [
      await compare('POST /v1/vehicle-checks', 1.6, folder, 32, post('/v1/vehicle-checks')),
      await compare('POST /v1/tires/geometry', undefined, folder, 32, post('/v1/tires/geometry')),
      await compare('POST /v1/vehicles', 1, folder, 16, insert),
      await starts(folder),
    ]
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
