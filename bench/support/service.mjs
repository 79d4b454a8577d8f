// The service on a database file, with an additional minimal route and the routes of duties.mjs. It logs as it does in operation,
// to where `start` sends its output.
import { pino } from 'pino'
import { buildApp } from '../../dist/src/app.js'
import { readConfig } from '../../dist/src/config.js'
import { openSqliteStore } from '../../dist/src/db/sqlite/sqlite-store.js'
import { LogBuffer } from '../../dist/src/plugins/log-buffer.js'
import { report } from './child.mjs'
import { addDuties } from './duties.mjs'

// Without load shedding, since a bench counts answers; the word `refusing` keeps the default, `silent` turns the log off.
const [file, ...words] = process.argv.slice(2)
const store = openSqliteStore({ file, clock: Date.now })
const app = await buildApp({
  config: readConfig({
    RATE_PER_KEY: '100000000',
    RATE_PER_ADDRESS: '100000000',
    ...(words.includes('refusing') ? {} : { SHED_AFTER_MS: '0' }),
  }),
  store,
  clock: Date.now,
  logger: pino({ level: words.includes('silent') ? 'silent' : 'info' }, new LogBuffer()),
})
app.get('/alive', { schema: { hide: true }, config: { unlimited: true } }, () => ({ ok: true }))
addDuties(app)
await report(app)
