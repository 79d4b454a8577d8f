// npm run torture [-- PART ...]: all long tests, or the named parts, with a summary at the end.
import { spawnSync } from 'node:child_process'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'

const root = join(dirname(fileURLToPath(import.meta.url)), '..')

const PARTS = {
  kill: {
    what: '1000 times kill -9 in the middle of writes, 500 times of two processes on one file, 50 times of the whole service and of its processes',
    tests: [
      'tests/db/crash.test.ts',
      'tests/torture/kill-server.test.ts',
      'tests/torture/kill-process.test.ts',
    ],
    environment: { CRASH_ROUNDS: '1000' },
  },
  faults: {
    what: 'disks that are full, fail or hold something else; clocks that jump; backup and restore under load',
    tests: ['disk-errors', 'disk-full', 'bad-files', 'clock', 'backup'].map(
      (name) => `tests/torture/${name}.test.ts`,
    ),
    environment: {},
  },
  overload: {
    what: '2, 5 and 10 times the capacity, a thousand idle connections, slow readers and writers',
    tests: ['tests/torture/overload.test.ts', 'tests/torture/connections.test.ts'],
    environment: {},
  },
  siege: {
    what: 'expired keys, slow readers, 100 000 requests in one go and 2 000 half-open connections, beside honest callers',
    tests: ['tests/torture/siege.test.ts'],
    environment: {},
  },
  memory: {
    what: 'large logs, tracks, batches and tables, half-sent bodies and pipelining of one caller, each on a service of its own',
    tests: ['tests/torture/memory.test.ts'],
    environment: {},
  },
  fuzz: {
    what: '10 000 random requests to each operation',
    tests: ['tests/contract'],
    environment: { FUZZ_RUNS: '10000' },
  },
}

const asked = process.argv.slice(2)
const unknown = asked.filter((name) => !Object.hasOwn(PARTS, name))
if (unknown.length > 0) {
  console.error(`no part named ${unknown.join(', ')}; npm run torture -- [${Object.keys(PARTS).join('] [')}]`)
  process.exit(2)
}

const vitest = join(root, 'node_modules/vitest/vitest.mjs')
const outcomes = Object.entries(PARTS)
  .filter(([name]) => asked.length === 0 || asked.includes(name))
  .map(([name, { what, tests, environment }]) => {
    console.log(`\n${name}: ${what}\n`)
    const startMs = performance.now()
    // Tests without a timeout of their own may take hours.
    const { status } = spawnSync(process.execPath, [vitest, 'run', '--testTimeout=14400000', ...tests], {
      cwd: root,
      stdio: 'inherit',
      env: { ...process.env, TORTURE: '1', ...environment },
    })
    return { name, what, passed: status === 0, minutes: (performance.now() - startMs) / 60_000 }
  })

console.log('')
for (const { name, what, passed, minutes } of outcomes) {
  console.log(
    `${passed ? 'passed' : 'FAILED'}  ${name.padEnd(8)}  ${minutes.toFixed(1).padStart(6)} min  ${what}`,
  )
}
process.exitCode = outcomes.every(({ passed }) => passed) ? 0 : 1
