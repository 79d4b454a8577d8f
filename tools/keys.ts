// npm run keys -- account | create | list | revoke
import { existsSync } from 'node:fs'
import { readConfig } from '../src/config.js'
import { openStore } from '../src/db/open-store.js'
import type { Store } from '../src/db/store.js'
import { COMMANDS_ON_A_FILE, runKeysCommand } from './keys-command.js'

const args = process.argv.slice(2)
const config = readConfig(process.env)
const isAbsent = config.databaseUrl === undefined && !existsSync(config.databaseFile)

let opened: Promise<Store> | undefined
try {
  if (COMMANDS_ON_A_FILE.includes(args[0] ?? '') && isAbsent) {
    console.error(`${config.databaseFile} is not there. Set DATABASE_FILE.`)
    process.exitCode = 1
  } else {
    process.exitCode = await runKeysCommand(args, {
      openStore() {
        opened ??= openStore(config, Date.now)
        return opened
      },
      clock: Date.now,
      print: console.log,
    })
  }
} finally {
  await (await opened)?.close()
}
