import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { MODEL } from '../src/domain/model.js'
import { testApp } from './support/app.js'

const root = join(import.meta.dirname, '..')
const { version } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))

// Found 2026-11: `info.version` was that of the computations (1.2.0), and no answer gave that of the program (0.2.0).
test('the version of the program is that of package.json, in /livez, /openapi.json and the header Server', async () => {
  const app = await testApp()
  const [alive, document] = await Promise.all([app.inject('/livez'), app.inject('/openapi.json')])
  await app.close()
  expect(alive.json()).toEqual({ alive: true, version, model: MODEL })
  // RFC 9110, 10.2.4: product "/" product-version.
  expect(alive.headers.server).toBe(`wheel-to-dial/${version}`)
  expect(document.json().info).toMatchObject({ version, 'x-model': MODEL })
})

test('CHANGELOG.md has what is not released on top, and the date of each release from 0.2.0', () => {
  const titles = readFileSync(join(root, 'CHANGELOG.md'), 'utf8').match(/^## .*$/gm)!
  expect(titles[0]).toBe('## Unreleased')
  for (const title of titles.slice(1)) expect(title).toMatch(/^## \d+\.\d+\.\d+ - \d{4}-\d{2}-\d{2}$/)
  expect(titles.map((title) => title.split(' ')[1])).toContain(version)
})
