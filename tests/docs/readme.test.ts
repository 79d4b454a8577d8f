import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'

const root = join(import.meta.dirname, '../..')
const readme = readFileSync(join(root, 'README.md'), 'utf8')
const blocks = (language: string) =>
  [...readme.matchAll(new RegExp(`\`\`\`${language}\n([\\s\\S]*?)\`\`\``, 'g'))].map(([, text]) => text!)
const app = await testApp()
afterAll(() => app.close())

/** Numbers of an excerpt agree to the digits shown; text that ends in dots agrees up to them; lists begin alike. */
function expectExcerpt(shown: unknown, given: unknown, path = ''): void {
  if (typeof shown === 'number') {
    const digits = String(shown).split('.')[1]?.length ?? 0
    expect(Math.abs((given as number) - shown), path).toBeLessThanOrEqual(0.5 * 10 ** -digits * (1 + 1e-9))
  } else if (typeof shown === 'string') {
    expect(String(given).startsWith(shown.replace(/ ?\.\.\.$/, '')), `${path}: ${given}`).toBe(true)
  } else if (typeof shown === 'object' && shown !== null) {
    for (const [key, inner] of Object.entries(shown))
      expectExcerpt(inner, (given as Record<string, unknown>)[key], `${path}/${key}`)
  } else expect(given, path).toBe(shown)
}

describe('README.md', () => {
  test('states the job in its first paragraph', () => {
    const [, first] = readme.split('\n\n')
    for (const word of ['speed reading', 'road wheel', 'OpenAPI', 'HTTP API'])
      expect(first!.replaceAll('\n', ' ')).toContain(word)
  })

  test('its request is answered as it shows', async () => {
    const [curl] = blocks('sh')
    const url = /http:\/\/\S+?(\/v1\S+)/.exec(curl!)![1]!
    const file = /-d @(\S+)/.exec(curl!)![1]!
    const response = await app.inject({
      method: 'POST',
      url,
      headers: { 'content-type': 'application/json' },
      payload: readFileSync(join(root, file)),
    })
    expect(response.statusCode).toBe(200)
    expectExcerpt(JSON.parse(blocks('json')[0]!), response.json())
  })

  test('its commands are scripts of package.json, and its links lead to files', () => {
    const { scripts } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))
    for (const [, name] of readme.matchAll(/^npm (?:run )?([a-z:]+)/gm))
      expect(scripts).toHaveProperty([name!])
    for (const [, target] of readme.matchAll(/\]\((?!http)([^)#]+)\)/g))
      expect(() =>
        readFileSync(join(root, target!, target!.endsWith('examples') ? 'check-vehicles.mjs' : '')),
      ).not.toThrow()
  })
})
