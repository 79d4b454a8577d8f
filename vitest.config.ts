import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    environment: 'node',
    globalSetup: ['./tests/support/chromium.ts'],
    setupFiles: ['./tests/support/properties.ts'],
    reporters: ['default', './tools/summary-reporter.ts'],
    // Threads that a test starts inherit this and can then run the sources.
    execArgv: ['--import', new URL('./tests/support/typescript/register.mjs', import.meta.url).href],
    testTimeout: 60_000,
    hookTimeout: 60_000,
  },
})
