// Writes what is made from the code: openapi/openapi.json, docs/formulas.md, docs/problems.md, docs/sources.md.
import { existsSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { buildApp } from '../src/app.js'
import { readConfig } from '../src/config.js'
import { openSqliteStore } from '../src/db/sqlite/sqlite-store.js'
import { generatedPages } from './pages.js'

const root = process.cwd()
const store = openSqliteStore({ file: ':memory:', clock: Date.now })
const app = await buildApp({ config: readConfig({}), store, clock: Date.now })
await app.ready()
const pages = {
  'openapi/openapi.json': `${JSON.stringify(app.swagger(), null, 2)}\n`,
  ...generatedPages(root),
}
for (const [file, text] of Object.entries(pages)) {
  const path = join(root, file)
  if (existsSync(path) && readFileSync(path, 'utf8') === text) continue
  writeFileSync(path, text)
  console.log(`wrote ${file}`)
}
await app.close()
await store.close()
