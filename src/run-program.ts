import cluster from 'node:cluster'
import { processCount } from './processes/process-count.js'
import { supervise } from './processes/supervisor.js'

/** Runs the program. A service of several processes is run by each of them; this one supervises them, and does not load it. */
export async function runProgram(args: readonly string[]): Promise<void> {
  const serves = args.length === 1 && args[0] === 'serve'
  // A setting that is not valid is refused by the service itself.
  const count = serves ? (processCount(process.env) ?? 1) : 1
  if (cluster.isPrimary && count > 1) return supervise(count)
  const { run } = await import('./load-program.js')
  await run(args)
  // The channel to the supervisor would keep a process open that could not start.
  if (cluster.isWorker && process.exitCode !== undefined) process.exit()
}
