import { execFile } from 'node:child_process'
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, symlinkSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'

const root = join(import.meta.dirname, '../..')
const tools = join(root, 'generated-clients')
const document = join(root, 'openapi/openapi.json')

const there = existsSync(join(tools, 'node_modules'))
if (!there) {
  const words = 'the generators are not installed: npm ci --prefix generated-clients'
  if (process.env.REQUIRE_CLIENTS === '1') throw new Error(`REQUIRE_CLIENTS=1, but ${words}`)
  console.log(`Tests of generated clients are skipped: ${words}.`)
}

describe.runIf(there)('clients generated from openapi.json', () => {
  const folder = mkdtempSync(join(tmpdir(), 'wheel-to-dial-clients-'))
  let app: Awaited<ReturnType<typeof testApp>>
  let address: string

  function run(file: string, ...args: string[]): Promise<string> {
    const env = { ...process.env, DOCUMENT: document }
    return new Promise((resolve, reject) => {
      execFile(
        process.execPath,
        [file, ...args],
        { cwd: folder, env, maxBuffer: 16_777_216 },
        (error, out, err) => (error === null ? resolve(out) : reject(new Error(`${file}\n${out}${err}`))),
      )
    })
  }
  const tool = (name: string, ...args: string[]) => run(join('node_modules', name), ...args)

  beforeAll(async () => {
    cpSync(tools, folder, { recursive: true, filter: (path) => !path.includes('node_modules') })
    symlinkSync(join(tools, 'node_modules'), join(folder, 'node_modules'))
    await tool('@hey-api/openapi-ts/bin/run.js')
    await tool('orval/dist/bin/orval.mjs', '--config', 'orval.config.mjs')
    await tool(
      'swagger-typescript-api/dist/cli.mjs',
      ...['generate', '--silent', '--generate-union-enums', '-p', document],
      ...['-o', 'generated', '-n', 'swagger-typescript-api.ts'],
    )
    app = await testApp()
    address = await app.listen({ host: '127.0.0.1', port: 0 })
  }, 600_000)
  afterAll(async () => {
    await app?.close()
    rmSync(folder, { recursive: true, force: true })
  })

  // Found 2026-11: patterns held line breaks, so that the schemas of zod were "Unterminated regular expression literal".
  test('compile strictly', async () => {
    await tool('typescript/bin/tsc', '-p', '.', '--typeRoots', join(root, 'node_modules/@types'))
  }, 600_000)

  // 185/60R14: 14 x 25.4 + 2 x 111 mm, rolling 3.05 of it; 1609344 mm a mile by 3.7 and 7/20 of 1000 turns: 18.3 % over.
  const VALUE = ((1_609_344 / (3.05 * (14 * 25.4 + 2 * 185 * 0.6))) * 3.7 * 7) / 20 / 1000

  test.each(['hey-api', 'orval', 'swagger-typescript-api', 'zod'])(
    '%s: checks a vehicle, and knows a refused one',
    async (name) => {
      const { value, code } = JSON.parse(await run(`dist/${name}.js`, address))
      expect(value).toBeCloseTo(VALUE, 6)
      expect(code).toBe('invalid-request')
    },
  )

  // Found 2026-11: no answer had an example, so a mock server answered "string" and 0.
  test('a mock server answers as the service does', async () => {
    const { status, mock } = JSON.parse(await run('dist/mock.js', document))
    expect(status).toBe(200)
    // It is the real answer to the example request of the document.
    const { requestBody } = JSON.parse(readFileSync(document, 'utf8')).paths['/v1/vehicle-checks'].post
    const answer = await post(app, '/v1/vehicle-checks', requestBody.content['application/json'].example)
    expect(mock).toEqual(answer.body)
  })
})
