import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { generatedPages } from '../../tools/pages.js'

const root = join(import.meta.dirname, '../..')
const pages = await generatedPages(root)

for (const [file, text] of Object.entries(pages)) {
  test(`${file} is what the code says (npm run generate writes it)`, () => {
    expect(readFileSync(join(root, file), 'utf8')).toBe(text)
  })
}
