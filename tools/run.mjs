// node tools/run.mjs PROGRAM [ARGUMENT ...]: sets up, builds, and runs a program of this folder on the Node of the set-up, as one
// child whose end is the end of this process.
import { spawn } from 'node:child_process'
import { setUp } from './installation.mjs'

/** A signal to the group and the one that npm then passes on come together; a later one is meant as a second. [ms] */
const TOGETHER_MS = 1000
/** How long the program may take to notice the request to stop, before it gets the signal itself. [ms] */
const NOTICE_MS = 2000
/** How often this process looks whether npm is still there. [ms] */
const LOOK_MS = 250

const parent = process.ppid
const node = await setUp({ builds: true })
const child = spawn(node, process.argv.slice(2), { stdio: ['inherit', 'inherit', 'inherit', 'ipc'] })

/** When the program was asked to stop first. [ms] */
let askedMs

/**
 * Asks the program to stop. Where the signal went to the group, or a terminal sent it, the program has it already, and would take a second one as
 * an order to stop at once: hence a message, which the service answers by closing the channel.
 */
function askToStop(signal) {
  if (askedMs !== undefined) return
  askedMs = performance.now()
  if (child.connected) child.send('stop', () => {})
  setTimeout(() => child.connected && child.kill(signal), NOTICE_MS)
}

for (const signal of ['SIGTERM', 'SIGINT', 'SIGHUP']) {
  process.on(signal, () => {
    if (askedMs !== undefined && performance.now() - askedMs > TOGETHER_MS) child.kill(signal)
    else askToStop(signal)
  })
}
// npm passes SIGTERM and SIGINT on, and ends of SIGHUP and SIGKILL without doing so: this process then has another parent.
if (process.env.npm_lifecycle_event !== undefined) {
  setInterval(() => {
    if (process.ppid !== parent) askToStop('SIGTERM')
  }, LOOK_MS)
}

child.on('exit', (code, signal) => {
  if (signal === null) process.exit(code)
  process.removeAllListeners(signal)
  process.kill(process.pid, signal)
})
