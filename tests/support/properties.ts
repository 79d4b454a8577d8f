import fc from 'fast-check'

// One start for every property, so that a test run says the same twice. FUZZ_SEED=random looks elsewhere each time; a number
// repeats what such a run found.
const { FUZZ_SEED = '20261125' } = process.env
fc.configureGlobal({
  ...fc.readConfigureGlobal(),
  includeErrorInReport: true,
  ...(FUZZ_SEED === 'random' ? {} : { seed: Number(FUZZ_SEED) }),
})

/** Cases of each operation; `npm run torture -- fuzz` runs more. */
export const CASES = Number(process.env.FUZZ_RUNS ?? 300)

/** Time that a test of so many cases may take at the most; nothing is said of how fast it is. */
export const TIMEOUT_MS = 120_000 + 1000 * CASES
