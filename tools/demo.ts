// npm run demo: fills an empty store with an invented club, and prints calls worth trying.
import { join } from 'node:path'
import { readConfig } from '../src/config.js'
import { openStore } from '../src/db/open-store.js'
import { runDemoCommand } from './demo-command.js'

const config = readConfig(process.env)
const store = await openStore(config, Date.now)
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
