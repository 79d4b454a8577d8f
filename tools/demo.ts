// npm run demo: an invented club and its vehicles, in an empty database.
import { readConfig } from '../src/config.js'
import { openSqliteStore } from '../src/db/sqlite/sqlite-store.js'
import { fillDemo } from './demo-command.js'

const config = readConfig(process.env)
const store = openSqliteStore({ file: config.databaseFile, clock: Date.now })
const address = `http://${config.host}:${config.port}`
try {
  process.exitCode = await fillDemo({ store, root: process.cwd(), address, print: console.log })
} finally {
  await store.close()
}
