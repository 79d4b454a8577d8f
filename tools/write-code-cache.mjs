// Starts the bundled service, checks one vehicle, and writes the code cache that V8 made of the functions used (src/start.ts).
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setFlagsFromString } from 'node:v8'

const root = join(import.meta.dirname, '..')
const folder = mkdtempSync(join(tmpdir(), 'wheel-to-dial-build-'))
process.on('exit', () => rmSync(folder, { recursive: true, force: true }))

// Not the environment of the build.
process.env = {
  PORT: '0',
  PROCESSES: '1',
  LOG_LEVEL: 'silent',
  SHED_AFTER_MS: '0',
  DATABASE_FILE: join(folder, 'build.sqlite'),
}
// The printed text contains the address.
const said = []
console.log = (line) => said.push(line)
const { started } = await import('../dist/start/server.js')
const { codeCacheFile } = await import('../dist/start/load-program.js')
await started
const address = /listens on (\S+)\./.exec(said.join('\n'))[1]
const check = await fetch(`${address}/v1/vehicle-checks`, {
  method: 'POST',
  // The stop below would wait for a keep-alive connection.
  headers: { 'content-type': 'application/json', connection: 'close' },
  body: readFileSync(join(root, 'examples/vehicles/cable-changed-axle.json')),
})
const answer = await check.text()
if (!check.ok) throw new Error(`the built service answers a check with ${check.status}: ${answer}`)
// A start loads the code before the service sets this option, and V8 uses only code that was compiled with the same options.
setFlagsFromString('--heap-growing-percent=0')
const { file, bytes } = codeCacheFile()
writeFileSync(file, bytes)
// Stops the service like a signal: it closes its store and ends the process.
process.emit('SIGTERM', 'SIGTERM')
