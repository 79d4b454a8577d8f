// Writes the files generated from the code: the contract and the pages; see tools/pages.ts.
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { generatedPages } from './pages.js'

const root = process.cwd()
for (const [file, text] of Object.entries(await generatedPages(root))) {
  const path = join(root, file)
  if (existsSync(path) && readFileSync(path, 'utf8') === text) continue
  mkdirSync(dirname(path), { recursive: true })
  writeFileSync(path, text)
  console.log(`wrote ${file}`)
}
