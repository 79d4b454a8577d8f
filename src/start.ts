// The service: what a supervisor starts, without npm.
import { run } from './load-program.js'

export { codeCacheFile, script } from './load-program.js'

/** Resolves once the service listens and has printed its address. */
export const started = run(['serve', ...process.argv.slice(2)])
