import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { sourceFiles } from '../../tools/docstrings.js'
import { pages, root } from '../support/markdown.js'

const rows = pages
  .get('docs/nomenclature.md')!
  .split('\n')
  .filter((line) => line.startsWith('| '))
  .slice(1)
  .map((line) => line.split('|').map((cell) => cell.trim()))

const source = sourceFiles(join(root, 'src'))
  .map((path) => readFileSync(path, 'utf8'))
  .join('\n')
const contract = readFileSync(join(root, 'openapi/openapi.json'), 'utf8')

const namesIn = (cell: string | undefined) =>
  [...(cell ?? '').matchAll(/`([^`]+)`/g)].map(([, name]) => name!.split('.').at(-1)!.replace('[]', ''))

describe('docs/nomenclature.md', () => {
  test('has words', () => expect(rows.length).toBeGreaterThan(25))

  for (const [, word, , , inCode, onTheWire] of rows) {
    test(`${word}: its names in the code and on the wire are there`, () => {
      for (const name of namesIn(inCode)) expect(source, name).toMatch(new RegExp(`\\b${name}\\b`))
      for (const name of namesIn(onTheWire)) expect(contract, name).toContain(`"${name}"`)
    })
  }
})
