// node tools/run.mjs PROGRAM [ARGUMENT ...]: sets up, builds, and runs a program of this folder on the Node of the set-up, as one
// child that gets the signals and whose end is the end of this process.
import { spawn } from 'node:child_process'
import { setUp } from './installation.mjs'

const node = await setUp({ builds: true })
const child = spawn(node, process.argv.slice(2), { stdio: 'inherit' })
for (const signal of ['SIGTERM', 'SIGHUP']) process.on(signal, () => child.kill(signal))
// A terminal sends Ctrl+C to both.
process.on('SIGINT', () => {})
child.on('exit', (code, signal) => {
  if (signal === null) process.exit(code)
  process.removeAllListeners(signal)
  process.kill(process.pid, signal)
})
