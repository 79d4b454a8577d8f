// Runs the bundled service through its start and one check, and keeps the code that V8 made for them beside it (src/start.ts).
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const root = join(import.meta.dirname, '..')
const folder = mkdtempSync(join(tmpdir(), 'wheel-to-dial-build-'))
process.on('exit', () => rmSync(folder, { recursive: true, force: true }))

// No setting of whoever builds.
process.env = {
  PORT: '0',
  LOG_LEVEL: 'silent',
  SHED_AFTER_MS: '0',
  DATABASE_FILE: join(folder, 'build.sqlite'),
}
// What the service says is for whoever runs it; this takes its address.
const said = []
console.log = (line) => said.push(line)
const { started, codeToKeep } = await import('../dist/start/server.js')
await started
const address = /listens on (\S+)\./.exec(said.join('\n'))[1]
const check = await fetch(`${address}/v1/vehicle-checks`, {
  method: 'POST',
  // A connection that is kept would be waited for below.
  headers: { 'content-type': 'application/json', connection: 'close' },
  body: readFileSync(join(root, 'examples/vehicles/cable-changed-axle.json')),
})
const answer = await check.text()
if (!check.ok) throw new Error(`the built service answers a check with ${check.status}: ${answer}`)
const { file, bytes } = codeToKeep()
writeFileSync(file, bytes)
// As the signal would: the service closes its store and ends the process.
process.emit('SIGTERM', 'SIGTERM')
