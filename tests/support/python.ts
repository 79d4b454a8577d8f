import { spawnSync } from 'node:child_process'
import { hasProgram } from './program.js'

export const HAS_PYTHON = hasProgram('python3', 'REQUIRE_PYTHON')

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
