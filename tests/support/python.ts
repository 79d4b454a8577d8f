import { spawnSync } from 'node:child_process'

/** Whether Python is there; where it must be, `REQUIRE_PYTHON=1` makes its absence a failure. */
function mayRun(): boolean {
  if (spawnSync('python3', ['-c', '']).status === 0) return true
  if (process.env.REQUIRE_PYTHON === '1') throw new Error('REQUIRE_PYTHON=1, but python3 does not run here')
  return false
}

export const HAS_PYTHON = mayRun()
if (!HAS_PYTHON) console.log('skipped: the contract is not tried with Python, for python3 does not run here')

/** Runs a script of the standard library alone: JSON in, JSON out. */
export function python(script: string, input: unknown): unknown {
  const { status, stdout, stderr } = spawnSync('python3', ['-c', script], {
    input: JSON.stringify(input),
    encoding: 'utf8',
    maxBuffer: 64 * 1024 * 1024,
  })
  if (status !== 0) throw new Error(stderr)
  return JSON.parse(stdout)
}
