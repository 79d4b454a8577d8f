// What a start takes, from the birth of the process to the first address it answers on.
import { spawn } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const root = join(import.meta.dirname, '..')
const SERVICE = join(root, 'dist/start/server.js')
const BARE = join(import.meta.dirname, 'support/bare-start.mjs')
const ROUNDS = 15

/** Starts a server and waits until it says that it listens [ms]. */
function startMs(file, database) {
  return new Promise((resolve, reject) => {
    const bornMs = performance.now()
    const child = spawn(process.execPath, [file], {
      cwd: root,
      env: { ...process.env, PORT: '0', LOG_LEVEL: 'warn', DATABASE_FILE: database },
      stdio: ['ignore', 'pipe', 'inherit'],
    })
    let tookMs
    child.stdout.on('data', (chunk) => {
      if (tookMs !== undefined || !String(chunk).includes('listens on')) return
      tookMs = performance.now() - bornMs
      child.kill('SIGKILL')
    })
    child.on('exit', () =>
      tookMs === undefined ? reject(new Error(`${file} did not start`)) : resolve(tookMs),
    )
  })
}

const quantile = (values, q) => values.toSorted((a, b) => a - b)[Math.round(q * (values.length - 1))]

export default async () => {
  const folder = mkdtempSync(join(tmpdir(), 'wheel-to-dial-bench-'))
  try {
    const run = (file) => startMs(file, join(folder, file === BARE ? 'bare.sqlite' : 'service.sqlite'))
    // The first of each makes its file and reads the program from the disk.
    for (const file of [SERVICE, BARE]) await run(file)
    const times = new Map([SERVICE, BARE].map((file) => [file, []]))
    for (let round = 0; round < ROUNDS; round++) {
      const order = round % 2 === 0 ? [SERVICE, BARE] : [BARE, SERVICE]
      for (const file of order) times.get(file).push(await run(file))
    }
    const [service, bare] = [times.get(SERVICE), times.get(BARE)]
    // A ratio of speeds, as everywhere: 1 / 1.5 is half as long again.
    const ratios = service.map((ms, round) => bare[round] / ms)
    return [
      {
        name: 'start until listening',
        ratio: quantile(bare, 0.5) / quantile(service, 0.5),
        spread: [quantile(ratios, 0.25), quantile(ratios, 0.75)],
        floor: 'framework, its OpenAPI plugin and the database driver on a WAL file, one route',
        target: 0.67,
        note: `medians ${quantile(service, 0.5).toFixed(0)} ms and ${quantile(bare, 0.5).toFixed(0)} ms`,
      },
    ]
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
