import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import { MODEL } from '../../src/domain/model.js'
import { COMMANDS } from '../../src/program/program.js'
import { runProgram } from '../support/surroundings.js'

const { version, scripts } = JSON.parse(readFileSync(join(import.meta.dirname, '../../package.json'), 'utf8'))
const store = openSqliteStore({ file: ':memory:', clock: Date.now })
afterAll(() => store.close())

describe('wheel-to-dial', () => {
  test('--version gives the versions of the program and of its computations', async () => {
    const said = await runProgram(['--version'], store)
    expect(said).toEqual({
      status: 0,
      printed: `wheel-to-dial ${version}, computations ${MODEL}`,
      warned: '',
    })
  })

  test('--help lists every command, and each command has its own', async () => {
    const { status, printed } = await runProgram(['--help'], store)
    expect(status).toBe(0)
    expect(Object.keys(COMMANDS)).toEqual(['serve', 'keys', 'backup', 'restore', 'demo', 'check'])
    for (const [name, { summary }] of Object.entries(COMMANDS)) {
      expect(printed).toMatch(new RegExp(`^ {2}${name} +${summary}$`, 'm'))
      for (const help of ['--help', '-h']) {
        const own = await runProgram([name, help], store)
        expect([own.status, own.warned]).toEqual([0, ''])
        expect(own.printed).toMatch(new RegExp(`^ {2}wheel-to-dial ${name}`, 'm'))
      }
    }
  })

  test('explains a command that it does not understand, with status 2', async () => {
    const wrong: ReadonlyArray<readonly [string[], string]> = [
      [[], 'which command?'],
      [['sreve'], 'unknown command sreve'],
      [['toString'], 'unknown command toString'],
      [['--verbose'], 'unknown command --verbose'],
      [['serve', '8080'], 'not understood: 8080'],
      [['demo', 'club'], 'not understood: club'],
      [['backup'], 'FILE is missing'],
      [['restore', 'a', 'b'], 'not understood: b'],
      [['check'], 'FILE is missing'],
      [['check', '--long', 'a'], "Unknown option '--long'"],
    ]
    for (const [args, message] of wrong) {
      const { status, printed, warned } = await runProgram(args, store)
      expect([status, printed, warned.slice(0, message.length)]).toEqual([2, '', message])
      expect(warned).toMatch(/^ {2}(serve|wheel-to-dial )/m)
    }
  })

  test('is what the npm scripts run', () => {
    for (const name of Object.keys(COMMANDS).filter((one) => one !== 'serve'))
      expect(scripts[name]).toBe(`node tools/run.mjs dist/start/wheel-to-dial.js ${name}`)
    expect(scripts.start).toBe('exec node tools/run.mjs dist/start/server.js')
  })

  test('gives the message of what failed, with status 1', async () => {
    const { status, warned } = await runProgram(['restore', 'nothing.sqlite'], store)
    expect([status, warned]).toEqual([1, expect.stringContaining('nothing.sqlite')])
    expect(warned).not.toMatch(/ at /)
  })
})
