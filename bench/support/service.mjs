// The service on a database file, with an additional minimal route and the routes of duties.mjs.
import { buildApp } from '../../dist/src/app.js'
import { readConfig } from '../../dist/src/config.js'
import { openSqliteStore } from '../../dist/src/db/sqlite/sqlite-store.js'
import { report } from './child.mjs'
import { addDuties } from './duties.mjs'

// Without load shedding, since a bench counts answers; a second argument keeps the default.
const [file, refusing] = process.argv.slice(2)
const store = openSqliteStore({ file, clock: Date.now })
const app = await buildApp({
  config: readConfig({
    RATE_PER_KEY: '100000000',
    RATE_PER_ADDRESS: '100000000',
    ...(refusing === undefined ? { SHED_AFTER_MS: '0' } : {}),
  }),
  store,
  clock: Date.now,
})
app.get('/alive', { schema: { hide: true }, config: { unlimited: true } }, () => ({ ok: true }))
addDuties(app)
await report(app)
