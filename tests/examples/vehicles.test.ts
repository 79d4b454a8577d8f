import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'

const root = join(import.meta.dirname, '../..')
const folder = join(root, 'examples/vehicles')
const app = await testApp()
afterAll(() => app.close())

describe('examples/vehicles', () => {
  for (const file of readdirSync(folder)) {
    test(`${file} is a profile that is checked`, async () => {
      const { status, body } = await post(
        app,
        '/v1/vehicle-checks',
        JSON.parse(readFileSync(join(folder, file), 'utf8')),
      )
      expect(status, JSON.stringify(body)).toBe(200)
      expect(body.paths[0].table.length).toBeGreaterThan(5)
    })
  }
})
