// npm run test:runtimes: proves on the other supported versions of Node, which it takes from the npm registry, that the store, the
// start and a few routes work, and that the answers to all example requests are the same, byte for byte, as on this one.
import { spawnSync } from 'node:child_process'
import { fileURLToPath } from 'node:url'
import { registryNode } from './runtime.mjs'

const root = fileURLToPath(new URL('..', import.meta.url))

const OTHERS = ['22', '26']
const TESTS = [
  'tests/db',
  'tests/start.test.ts',
  'tests/watchdog.test.ts',
  'tests/routes/gauges.test.ts',
  'tests/routes/idempotency.test.ts',
  'tests/routes/vehicle-batches.test.ts',
  'tests/routes/vehicles.test.ts',
  'tests/routes/worksheets.test.ts',
]

function output(node, program) {
  const { status, stdout } = spawnSync(node, [program], {
    cwd: root,
    encoding: 'utf8',
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  if (status !== 0) throw new Error(`${program} failed on ${node}`)
  return stdout.trimEnd().split('\n')
}

const expected = output(process.execPath, 'dist/tools/answer-digests.js')
for (const name of OTHERS) {
  const node = registryNode(name, `getting Node ${name} from the npm registry`)
  console.log(`\nNode ${name}`)
  const answers = output(node, 'dist/tools/answer-digests.js')
  const different = answers.filter((answer, i) => answer !== expected[i])
  console.log(`${answers.length} answers, ${different.length} other than on Node ${process.versions.node}`)
  for (const answer of different) console.log(`  ${answer}`)
  const { status } = spawnSync(node, ['node_modules/vitest/vitest.mjs', 'run', ...TESTS], {
    cwd: root,
    stdio: 'inherit',
  })
  if (status !== 0 || different.length > 0 || answers.length !== expected.length) process.exitCode = 1
}
