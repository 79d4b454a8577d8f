// npm run demo: fills an empty store with an invented club, and prints calls worth trying.
import { join } from 'node:path'
import { readConfig } from '../src/config.js'
import { openSqliteStore } from '../src/db/sqlite/sqlite-store.js'
import { runDemoCommand } from './demo-command.js'

const config = readConfig(process.env)
const store = openSqliteStore({ file: config.databaseFile, clock: Date.now })
try {
  process.exitCode = await runDemoCommand({
    store,
    config,
    clock: Date.now,
    examples: join(process.cwd(), 'examples'),
    print: console.log,
  })
} finally {
  await store.close()
}
