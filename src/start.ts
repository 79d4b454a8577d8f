// The service: what a supervisor starts, without npm.
import { runProgram } from './run-program.js'

/** Resolves once the service listens; in a process of its own, also once it has printed its address. */
export const started = runProgram(['serve', ...process.argv.slice(2)])
