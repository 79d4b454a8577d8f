// npm run keys -- account | create | list | revoke
import { readConfig } from '../src/config.js'
import { openSqliteStore } from '../src/db/sqlite/sqlite-store.js'
import { runKeysCommand } from './keys-command.js'

const store = openSqliteStore({ file: readConfig(process.env).databaseFile, clock: Date.now })
try {
  process.exitCode = await runKeysCommand(process.argv.slice(2), {
    store,
    clock: Date.now,
    print: console.log,
  })
} finally {
  await store.close()
}
