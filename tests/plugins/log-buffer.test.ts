import { spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { openSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, test } from 'vitest'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'

const root = join(import.meta.dirname, '../..')

beforeAll(build, 120_000)

/** A program with a logger `log` as that of the service. */
const program = (body: string) => [
  '--input-type=module',
  '-e',
  `import { pino } from 'pino'
   import { LogBuffer } from '${join(root, 'dist/src/plugins/log-buffer.js')}'
   const log = pino({ level: 'info' }, new LogBuffer())
   ${body}`,
]

const messages = (out: string) =>
  out
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line).msg as string)

/** What a program has logged once it has ended by itself. */
function loggedBy(body: string): string[] {
  const { stdout } = spawnSync(process.execPath, program(body), { cwd: root, encoding: 'utf8' })
  return messages(stdout)
}

const numbers = Array.from({ length: 1000 }, (_, n) => `${n}`)
const LOG_NUMBERS = "for (let n = 0; n < 1000; n++) log.info(String(n)); log.info('ä'.repeat(5000))"

describe('the lines of the log are all there, in order,', () => {
  test.each([
    ['after process.exit()', 'process.exit(3)'],
    ['after an error that nothing catches', "throw new Error('on purpose')"],
    ['at the end of the program', ''],
  ])('%s', (_when, end) => {
    expect(loggedBy(`${LOG_NUMBERS}; log.info('last'); ${end}`)).toEqual([
      ...numbers,
      'ä'.repeat(5000),
      'last',
    ])
  })

  test.each(['warn', 'error', 'fatal'])(
    'up to one of level %s when the process is killed after it',
    (level) => {
      expect(loggedBy(`${LOG_NUMBERS}; log.${level}('last'); process.kill(process.pid, 'SIGKILL')`)).toEqual([
        ...numbers,
        'ä'.repeat(5000),
        'last',
      ])
    },
  )
})

test('kill -9 loses the lines of the last second and no others', async () => {
  const child = spawn(
    process.execPath,
    program(
      "log.info('early'); setTimeout(() => { log.info('late'); process.kill(process.pid, 'SIGKILL') }, 1500)",
    ),
    { cwd: root },
  )
  let out = ''
  child.stdout.on('data', (chunk) => {
    out += chunk
  })
  await once(child, 'close')
  expect(messages(out)).toEqual(['early'])
})

test('several processes write whole lines to one file', async () => {
  const file = join(tempFolder(), 'log')
  const output = openSync(file, 'a')
  const children = ['one', 'two'].map((name) =>
    spawn(process.execPath, program(`for (let n = 0; n < 5000; n++) log.info('${name}')`), {
      cwd: root,
      stdio: ['ignore', output, 'inherit'],
    }),
  )
  await Promise.all(children.map((child) => once(child, 'close')))
  const logged = messages(readFileSync(file, 'utf8'))
  expect(logged.filter((msg) => msg === 'one')).toHaveLength(5000)
  expect(logged.filter((msg) => msg === 'two')).toHaveLength(5000)
})

test('a log that nobody reads does not end the program', async () => {
  const child = spawn(process.execPath, program(`${LOG_NUMBERS}; process.exit(7)`), { cwd: root })
  child.stdout.destroy()
  expect((await once(child, 'exit'))[0]).toBe(7)
})
