import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'

const root = join(import.meta.dirname, '../..')
const page = readFileSync(join(root, 'docs/promises.md'), 'utf8')

/** Rows of the tables: promise, test, figure. */
const rows = page
  .split('\n')
  .filter((line) => line.startsWith('| ') && !line.startsWith('| promise'))
  .map((line) => line.split(' | ').map((cell) => cell.replace(/^\| | \|$/g, '').trim()))

describe('docs/promises.md', () => {
  test('has a promise, a test and a figure in each row', () => {
    expect(rows.length).toBeGreaterThan(40)
    for (const row of rows) {
      expect(row, row.join(' | ')).toHaveLength(3)
      for (const cell of row) expect(cell, row.join(' | ')).not.toBe('')
    }
  })

  for (const [promise = '', shown = ''] of rows) {
    test(`names a test that exists: ${promise}`, () => {
      const named = [...shown.matchAll(/`([^`]+)`(?:: "([^"]+)")?/g)]
      expect(named.length, shown).toBeGreaterThan(0)
      for (const [, path, title] of named) {
        const file = join(root, path!)
        expect(existsSync(file), path).toBe(true)
        if (title !== undefined)
          expect(readFileSync(file, 'utf8'), `${path} has no such title`).toContain(title)
      }
    })
  }
})
