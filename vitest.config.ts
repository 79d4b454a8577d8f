import { availableParallelism } from 'node:os'
import { defineConfig } from 'vitest/config'

/** Tests that compare how fast the service answers one time and another: nothing else may run beside them. */
const QUIET = ['connections', 'overload', 'pipelining', 'siege'].map(
  (name) => `tests/torture/${name}.test.ts`,
)

const EVERY = {
  environment: 'node',
  // The services that tests start are one process, unless a test is about several.
  env: { PROCESSES: '1' },
  setupFiles: ['./tests/support/properties.ts'],
  // Threads that a test starts inherit this and can then run the sources.
  execArgv: ['--import', new URL('./tests/support/typescript/register.mjs', import.meta.url).href],
  testTimeout: 60_000,
  hookTimeout: 60_000,
}

export default defineConfig({
  test: {
    globalSetup: ['./tests/support/chromium.ts', './tests/support/postgres.ts'],
    reporters: ['default', './tools/summary-reporter.ts'],
    projects: [
      {
        test: {
          ...EVERY,
          name: 'side by side',
          include: ['tests/**/*.test.ts'],
          exclude: QUIET,
          // Two on two processors as well: many tests wait for a process, a browser or a clock.
          maxWorkers: Math.max(2, availableParallelism() - 1),
          sequence: { groupOrder: 0 },
        },
      },
      { test: { ...EVERY, name: 'quiet', include: QUIET, maxWorkers: 1, sequence: { groupOrder: 1 } } },
    ],
  },
})
