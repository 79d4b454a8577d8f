import { execFile } from 'node:child_process'
import { copyFileSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import openapiTypescript, { astToString } from 'openapi-typescript'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'

const root = join(import.meta.dirname, '../..')
const example = join(root, 'examples/typed-client')
const folder = mkdtempSync(join(tmpdir(), 'wheel-to-dial-typed-'))
const app = await testApp()
const address = await app.listen({ host: '127.0.0.1', port: 0 })

beforeAll(async () => {
  const document = JSON.parse(readFileSync(join(root, 'openapi/openapi.json'), 'utf8'))
  writeFileSync(join(folder, 'api.d.ts'), astToString(await openapiTypescript(document, { silent: true })))
  writeFileSync(join(folder, 'package.json'), '{ "type": "module" }')
  symlinkSync(join(root, 'node_modules'), join(folder, 'node_modules'))
  for (const file of ['tsconfig.json', 'check-vehicle.ts'])
    copyFileSync(join(example, file), join(folder, file))
})
afterAll(async () => {
  await app.close()
  rmSync(folder, { recursive: true, force: true })
})

const run = (script: string, ...args: string[]) =>
  new Promise<{ code: number; output: string }>((resolve) => {
    execFile(process.execPath, [script, ...args], { cwd: folder }, (error, stdout, stderr) =>
      resolve({ code: error === null ? 0 : Number(error.code), output: stdout + stderr }),
    )
  })
const compile = (...options: string[]) =>
  run(join(root, 'node_modules/typescript/bin/tsc'), '-p', folder, ...options)

/** Bodies that the service refuses by their shape, one an expression of this type. */
const WRONG = [
  ['a field that is not there', `{ ...vehicle, topspeed: { mph: 90 } }`],
  ['a number written as text', `{ ...vehicle, topSpeed: { mph: '90' } }`],
  ['a unit of another quantity', `{ ...vehicle, topSpeed: { mm: 90 } }`],
  ['a list where one is needed', `{ ...vehicle, paths: undefined }`],
  ['undefined for an optional field', `{ ...vehicle, notes: undefined }`],
  ['an axle that no car has', `{ ...vehicle, paths: [{ ...vehicle.paths[0]!, axle: 'middle' }] }`],
] as const

const program = (expectErrors: boolean) =>
  [
    `import type { components } from './api.js'`,
    `type Vehicle = components['schemas']['VehicleProfile']`,
    'declare const vehicle: Vehicle',
    ...WRONG.flatMap(([, body], i) => [
      expectErrors ? '// @ts-expect-error' : '',
      `export const wrong${i}: Vehicle = ${body}`,
    ]),
    `export const right: Vehicle = { ...vehicle, topSpeed: { mph: 90 }, notes: 'dry road' }`,
    '',
  ].join('\n')

describe('examples/typed-client', () => {
  test(`compiles strictly; ${WRONG.map(([what]) => what).join(', ')}: does not`, async () => {
    const text = readFileSync(join(folder, 'check-vehicle.ts'), 'utf8')
    const refused = text.replace("rear: { size: '185/60R14' }", "rear: { size: '185/60R99' }")
    expect(refused).not.toBe(text)
    writeFileSync(join(folder, 'refused.ts'), refused)
    writeFileSync(join(folder, 'wrong.ts'), program(true))
    const compiled = await compile()
    expect(compiled.output).toBe('')
    expect(compiled.code).toBe(0)
    // Without the marks each of them is an error of the compiler, on its own line.
    writeFileSync(join(folder, 'wrong.ts'), program(false))
    const { code, output } = await compile('--noEmit')
    expect(code).not.toBe(0)
    const lines = [...output.matchAll(/^(\S+)\((\d+),/gm)].map(([, file, line]) => [file, Number(line)])
    expect(lines).toEqual(WRONG.map((_, i) => ['wrong.ts', 5 + 2 * i]))
  })

  test('prints the error of each path, and its verdict', async () => {
    const { code, output } = await run(join(folder, 'dist/check-vehicle.js'), address)
    // 3.7 · 7/20 = 1.295 turns of the cable a wheel turn, 1.295·turns a mile over 1000.
    const perMile = (await app.inject('/v1/tires?size=185/60R14')).json().turns.perMile
    expect(output).toContain(`speedometer: error ${((1.295 * perMile) / 10 - 100).toFixed(1)} ±`)
    expect(output).toMatch(/un-r39: (conforms|does-not-conform|not-proven)/)
    expect(code).toBe(/^fail: /m.test(output) ? 1 : 0)
  })

  test('names the invalid field', async () => {
    const { code, output } = await run(join(folder, 'dist/refused.js'), address)
    expect(code).toBe(1)
    expect(output).toMatch(/^not checked: .+\n {2}#\/tires\/rear\/size: /)
  })
  test('reports a missing answer in one line', async () => {
    expect(await run(join(folder, 'dist/check-vehicle.js'), 'http://127.0.0.1:9')).toEqual({
      code: 2,
      output: 'no answer from http://127.0.0.1:9\n',
    })
  })
})
