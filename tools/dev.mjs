// Runs the service and restarts it after each change of a source: compiler and Node in watch mode, each in its own process.
import { spawn } from 'node:child_process'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { setUp } from './installation.mjs'

const root = join(dirname(fileURLToPath(import.meta.url)), '..')
const node = await setUp({ builds: true })

const children = [
  spawn(
    node,
    ['node_modules/typescript/bin/tsc', '-p', 'tsconfig.build.json', '--watch', '--preserveWatchOutput'],
    { cwd: root, stdio: 'inherit' },
  ),
  spawn(
    node,
    [
      '--watch',
      '--watch-path=dist',
      '--watch-path=pages',
      '--watch-preserve-output',
      'tools/dev-service.mjs',
    ],
    {
      cwd: root,
      stdio: 'inherit',
    },
  ),
]

for (const child of children) {
  child.on('exit', () => {
    for (const other of children) other.kill()
  })
}
for (const signal of ['SIGINT', 'SIGTERM']) {
  process.on(signal, () => {
    for (const child of children) child.kill(signal)
  })
}
