// npm run keys -- account | create | list | revoke
import { existsSync } from 'node:fs'
import { readConfig } from '../src/config.js'
import { openSqliteStore } from '../src/db/sqlite/sqlite-store.js'
import type { Store } from '../src/db/store.js'
import { COMMANDS_ON_A_FILE, runKeysCommand } from './keys-command.js'

const args = process.argv.slice(2)
const { databaseFile } = readConfig(process.env)

let opened: Store | undefined
try {
  if (COMMANDS_ON_A_FILE.includes(args[0] ?? '') && !existsSync(databaseFile)) {
    console.error(`${databaseFile} is not there. Set DATABASE_FILE.`)
    process.exitCode = 1
  } else {
    process.exitCode = await runKeysCommand(args, {
      // Opened by the command that needs it, so that an invalid command creates no file.
      get store() {
        opened ??= openSqliteStore({ file: databaseFile, clock: Date.now })
        return opened
      },
      clock: Date.now,
      print: console.log,
    })
  }
} finally {
  await opened?.close()
}
