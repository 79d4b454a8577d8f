// Duration of a start, from the creation of the process to the first answer: elapsed time, and CPU time, which
// other load on the machine affects less.
import { spawn } from 'node:child_process'
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const root = join(import.meta.dirname, '..')
const SERVICE = join(root, 'dist/start/server.js')
const BARE = join(import.meta.dirname, 'support/bare-start.mjs')
const ROUNDS = 20

/** CPU time of all threads of a process [ms], if the system provides it. */
function processorMs(pid) {
  const tasks = `/proc/${pid}/task`
  if (!existsSync(`${tasks}/${pid}/schedstat`)) return undefined
  const spent = (task) => Number(readFileSync(`${tasks}/${task}/schedstat`, 'utf8').split(' ')[0])
  return readdirSync(tasks).reduce((sum, task) => sum + spent(task), 0) / 1e6
}

/** Starts a server and waits until it prints that it listens. */
function start(file, database) {
  return new Promise((resolve, reject) => {
    const bornMs = performance.now()
    const child = spawn(process.execPath, [file], {
      cwd: root,
      env: { ...process.env, PORT: '0', PROCESSES: '1', LOG_LEVEL: 'warn', DATABASE_FILE: database },
      stdio: ['ignore', 'pipe', 'inherit'],
    })
    let took
    child.stdout.on('data', (chunk) => {
      if (took !== undefined || !String(chunk).includes('listens on')) return
      took = { ms: performance.now() - bornMs, processorMs: processorMs(child.pid) }
      child.kill('SIGKILL')
    })
    child.on('exit', () => (took === undefined ? reject(new Error(`${file} did not start`)) : resolve(took)))
  })
}

const quantile = (values, q) => values.toSorted((a, b) => a - b)[Math.round(q * (values.length - 1))]

/** A ratio of speeds, as everywhere: 1 / 1.5 is half as long again. */
function row(name, service, bare) {
  const ratios = service.map((ms, round) => bare[round] / ms)
  return {
    name,
    ratio: quantile(bare, 0.5) / quantile(service, 0.5),
    spread: [quantile(ratios, 0.25), quantile(ratios, 0.75)],
    floor: 'framework, its OpenAPI plugin and the database driver on a WAL file, one route',
    note: `medians ${quantile(service, 0.5).toFixed(0)} ms and ${quantile(bare, 0.5).toFixed(0)} ms`,
  }
}

export default async () => {
  const folder = mkdtempSync(join(tmpdir(), 'wheel-to-dial-bench-'))
  try {
    const run = (file) => start(file, join(folder, file === BARE ? 'bare.sqlite' : 'service.sqlite'))
    // Warm-up: the first start creates the database and reads the program from the disk.
    for (const file of [SERVICE, BARE]) await run(file)
    const starts = new Map([SERVICE, BARE].map((file) => [file, []]))
    for (let round = 0; round < ROUNDS; round++) {
      const order = round % 2 === 0 ? [SERVICE, BARE] : [BARE, SERVICE]
      for (const file of order) starts.get(file).push(await run(file))
    }
    const times = (file, which) => starts.get(file).map((took) => took[which])
    const rows = [{ ...row('start until listening', times(SERVICE, 'ms'), times(BARE, 'ms')), target: 0.67 }]
    const processor = [times(SERVICE, 'processorMs'), times(BARE, 'processorMs')]
    if (!processor.flat().includes(undefined)) rows.push(row('start, time of the processor', ...processor))
    return rows
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
