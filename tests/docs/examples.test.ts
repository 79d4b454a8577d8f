import { spawn } from 'node:child_process'
import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'

const root = join(import.meta.dirname, '../..')
const folder = join(root, 'examples/vehicles')
const app = await testApp()
const address = await app.listen({ port: 0 })
afterAll(() => app.close())

function run(...args: string[]): Promise<{ code: number | null; output: string }> {
  return new Promise((resolve) => {
    const child = spawn(process.execPath, args, { cwd: root })
    let output = ''
    for (const stream of [child.stdout, child.stderr]) stream.on('data', (chunk) => (output += chunk))
    child.on('close', (code) => resolve({ code, output }))
  })
}

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

describe('examples/check-vehicles.mjs', () => {
  test('prints a line for each profile, and ends with 1 because one of them fails', async () => {
    const { code, output } = await run('examples/check-vehicles.mjs', address)
    for (const file of readdirSync(folder)) expect(output).toContain(`${file}: `)
    expect(output).toContain('best remedy: Change the driven gear')
    expect(code).toBe(1)
  })
})
