import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    environment: 'node',
    reporters: ['default', './tools/summary-reporter.ts'],
    testTimeout: 60_000,
    hookTimeout: 60_000,
  },
})
