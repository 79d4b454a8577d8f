import { type ChildProcess, spawn } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeAll, beforeEach, describe, expect, test, vi } from 'vitest'
import { build } from './support/build.js'
import { tempFolder } from './support/temp.js'

const root = join(import.meta.dirname, '..')
let file: string
let running: ChildProcess | undefined

beforeAll(build, 120_000)
beforeEach(() => {
  file = join(tempFolder(), 'data/first.sqlite')
})
afterEach(() => {
  running?.kill('SIGKILL')
})

function begin() {
  const child = spawn(process.execPath, ['dist/start/server.js'], {
    cwd: root,
    env: { ...process.env, PORT: '0', DATABASE_FILE: file, LOG_LEVEL: 'trace' },
  })
  running = child
  const printed = { out: '', error: '' }
  child.stdout.on('data', (chunk) => {
    printed.out += chunk
  })
  child.stderr.on('data', (chunk) => {
    printed.error += chunk
  })
  return { child, printed }
}

/** Starts the service as `npm start` does, once built, and waits until it has printed all of its greeting. */
async function start(last: RegExp) {
  const { child, printed } = begin()
  while (!last.test(printed.out)) {
    if (child.exitCode !== null) throw new Error(`the service ended: ${printed.error}`)
    await new Promise((resolve) => setTimeout(resolve, 20))
  }
  return { child, printed }
}

async function stop(child: ChildProcess): Promise<void> {
  child.kill('SIGTERM')
  const [code] = await once(child, 'exit')
  expect(code).toBe(0)
}

const KEY = /wtd_[\w-]{43}/g

describe('npm start', () => {
  test('on an empty file makes one key, prints it with a curl that works, and logs it nowhere', async () => {
    const { child, printed } = await start(/makes another/)
    const keys = new Set(printed.out.match(KEY))
    expect(keys.size).toBe(1)
    const curl =
      /^ *curl -s (\S+) -H '(authorization): (Bearer \S+)' -H '(content-type): (\S+)' -d @(\S+)$/m.exec(
        printed.out,
      )
    const [, url, auth, bearer, type, media, example] = curl!
    const made = await fetch(url!, {
      method: 'POST',
      headers: { [auth!]: bearer!, [type!]: media! },
      body: readFileSync(join(root, example!)),
    })
    expect(made.status).toBe(201)
    const stored = await fetch(url!, { headers: { [auth!]: bearer! } })
    expect(((await stored.json()) as { vehicles: unknown[] }).vehicles).toHaveLength(1)
    const logged = () => printed.out.split('\n').filter((line) => line.startsWith('{'))
    // The log comes through a pipe: it may arrive after the answer.
    await vi.waitFor(() => expect(logged().length).toBeGreaterThan(2), 10_000)
    const log = logged()
    expect(log.filter((line) => line.match(KEY))).toEqual([])
    await stop(child)

    const again = await start(/Check an example/)
    expect(again.printed.out.match(KEY)).toBeNull()
    const address = /listens on (\S+)\./.exec(again.printed.out)![1]!
    const still = await fetch(`${address}/v1/vehicles`, { headers: { authorization: bearer! } })
    expect(((await still.json()) as { vehicles: unknown[] }).vehicles).toHaveLength(1)
    await stop(again.child)
  })

  test('on a file of another program ends with a sentence, not a stack', async () => {
    file = join(tempFolder(), 'letter.txt')
    writeFileSync(file, 'Dear club, '.repeat(1000))
    const { child, printed } = begin()
    const [code] = await once(child, 'close')
    expect(code).toBe(1)
    expect(printed.error).toMatch(/letter\.txt is not an SQLite file\. Name another DATABASE_FILE\./)
    expect(printed.error).not.toMatch(/ at /)
  })
})
