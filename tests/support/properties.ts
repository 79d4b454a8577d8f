import fc from 'fast-check'

// One start for every property, so that a test run says the same twice. FUZZ_SEED=random looks elsewhere each time; a number
// repeats what such a run found.
const { FUZZ_SEED = '20261125' } = process.env
if (FUZZ_SEED !== 'random') fc.configureGlobal({ ...fc.readConfigureGlobal(), seed: Number(FUZZ_SEED) })
