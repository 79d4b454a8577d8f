import { spawnSync } from 'node:child_process'

/** Whether a program of another language is there; where it must be, its setting (`REQUIRE_PHP=1`) makes its absence a failure. */
export function hasProgram(program: string, setting: string): boolean {
  if (spawnSync(program, ['--version']).status === 0) return true
  if (process.env[setting] === '1') throw new Error(`${setting}=1, but ${program} does not run here`)
  console.log(`Tests with ${program} are skipped: it does not run here.`)
  return false
}
