import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'

const root = join(import.meta.dirname, '../..')
const readme = readFileSync(join(root, 'README.md'), 'utf8')
describe('README.md', () => {
  test('states the job in its first paragraph', () => {
    const [, first] = readme.split('\n\n')
    for (const word of ['speed reading', 'road wheel', 'OpenAPI', 'HTTP API'])
      expect(first!.replaceAll('\n', ' ')).toContain(word)
  })

  test('has its request and its answer near the top: calls.test.ts runs it', () => {
    const top = readme.split('\n').slice(0, 45).join('\n')
    expect(top).toMatch(/```sh\ncurl .*\/v1\/vehicle-checks[\s\S]*?```json\n/)
  })

  test('names the two commands', () => {
    for (const command of ['npm start', 'npm test']) expect(readme).toContain(`\n${command} `)
  })
})
