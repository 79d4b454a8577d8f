// node tools/checks.mjs COMMAND [ARGUMENT ...]: runs a command of the packages of `checks`, which are installed when first needed.
import { spawnSync } from 'node:child_process'
import { fileURLToPath } from 'node:url'
import { setUp } from './installation.mjs'

await setUp({ builds: false, checks: true })
const [command, ...args] = process.argv.slice(2)
const commands = fileURLToPath(new URL('../checks/node_modules/.bin/', import.meta.url))
// Commands are batch files on Windows, hence the shell there.
const { status } = spawnSync(commands + command, args, {
  stdio: 'inherit',
  shell: process.platform === 'win32',
})
process.exit(status ?? 1)
