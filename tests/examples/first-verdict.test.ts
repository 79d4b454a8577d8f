import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'

const root = join(import.meta.dirname, '../..')
const example = readFileSync(join(root, 'examples/check-my-car.mjs'), 'utf8')
const lines = example.split('\n')

/** The commands that the example gives, in order, without what stands in brackets behind them. */
const commands = lines.flatMap((line) => /^\/\/ {3}\$ (.*?)(?: +\(.*)?$/.exec(line)?.[1] ?? [])

/** Runs node on a file of the clone. */
async function run(...args: string[]) {
  const child = spawn(process.execPath, args, { cwd: root })
  let output = ''
  for (const stream of [child.stdout, child.stderr]) stream.on('data', (chunk) => (output += chunk))
  const [code] = await once(child, 'close')
  return { code, output }
}

describe('from a clone to a first verdict on a car of your own', () => {
  beforeAll(build, 120_000)

  test('takes three commands and one edited line', async () => {
    expect(commands).toEqual(['cd wheel-to-dial', 'npm start', 'node examples/check-my-car.mjs'])

    const file = join(tempFolder(), 'mine.mjs')
    const edited = lines.map((line) =>
      line.startsWith('const CAR = ')
        ? line.replace("'175/70R13'", "'195/70R14'").replace('gears: [6, 20]', 'gears: [6, 23]')
        : line,
    )
    expect(edited.filter((line, index) => line !== lines[index])).toHaveLength(1)
    writeFileSync(file, edited.join('\n'))

    const service = spawn('npm', ['start'], {
      cwd: root,
      env: {
        ...process.env,
        PORT: '0',
        DATABASE_FILE: join(tempFolder(), 'data.sqlite'),
        LOG_LEVEL: 'silent',
      },
      // A group of its own: npm, its shell and the service end together.
      detached: true,
    })
    try {
      let printed = ''
      // The pipe stays open: the service ends when it cannot print the rest.
      for await (const chunk of service.stdout.iterator({ destroyOnReturn: false })) {
        printed += chunk
        if (/listens on \S+\. /.test(printed)) break
      }
      service.stdout.resume()
      const address = /listens on (\S+)\. /.exec(printed)![1]!
      const { code, output } = await run(file, address)
      expect(code).toBe(0)
      expect(output).toMatch(
        /^(Allowed|Not allowed|Not proven) by un-r39 \(probability that it conforms: [01]\.\d\d\)$/m,
      )
      // ETRTO: a radial rolls 3.05 D. D = 14 x 25.4 + 2 x 0.70 x 195 = 628.6 mm, rolls 1917.23 mm, 839.41 turns a mile;
      // x 37/9 x 6/23 = 900.2 cable turns a mile into a head of 1000: 50 x 0.9002 = 45.0.
      expect(output).toMatch(/^true 50: indicated 45\.0 ± \d\.\d$/m)
    } finally {
      process.kill(-service.pid!, 'SIGKILL')
    }
  })

  test('reports errors in the edited line', async () => {
    const app = await testApp()
    const wrong = example.replace("'175/70R13'", "'175/70R99'").replace("unit: 'mph'", "unit: 'mp/h'")
    const file = join(tempFolder(), 'wrong.mjs')
    writeFileSync(file, wrong)
    const { code, output } = await run(file, await app.listen({ port: 0 }))
    await app.close()
    expect(output).toMatch(/^#\/paths\/0\/head\/unit: expected one of mph, kmh; got "mp\/h"$/m)
    expect(code).toBe(1)
  })

  test('accepts the constant of a dial in km/h', async () => {
    const app = await testApp()
    const metric = example
      .replace('{ perMile: 1000 }', '{ perKm: 620 }')
      .replace("unit: 'mph'", "unit: 'kmh'")
    const file = join(tempFolder(), 'metric.mjs')
    writeFileSync(file, metric)
    const { output } = await run(file, await app.listen({ port: 0 }))
    await app.close()
    // ETRTO: D = 13 x 25.4 + 2 x 0.70 x 175 = 575.2 mm, rolls 3.05 D = 1754.36 mm, 570.0085 turns a kilometer;
    // x 37/9 x 6/20 = 703.0105 cable turns a kilometer into a head of 620: 100 x 1.13389 = 113.4.
    expect(output).toMatch(/^true 100: indicated 113\.4 ± \d\.\d$/m)
  })

  test('reports that the service is not running', async () => {
    const { code, output } = await run('examples/check-my-car.mjs', 'http://127.0.0.1:9')
    expect(output).toBe('No answer from http://127.0.0.1:9. Start the service with npm start.\n')
    expect(code).toBe(2)
  })
})
