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

test('every computation of the index has an endpoint: what no operation uses is no part of the service', () => {
  const rows = pages['docs/README.md']!.split('\n').filter(
    (line) => line.startsWith('| ') && line.includes('](subjects/'),
  )
  expect(rows.length).toBeGreaterThan(200)
  expect(rows.filter((row) => !/\[`(GET|POST|PUT|PATCH|DELETE) \/\S*`\]/.test(row))).toEqual([])
})
