import { type ChildProcess, spawn } from 'node:child_process'
import { once } from 'node:events'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { afterEach, beforeAll, describe, expect, test } from 'vitest'
import { build } from './support/build.js'
import { Connection } from './support/raw.js'
import { tempFolder } from './support/temp.js'

const root = join(import.meta.dirname, '..')

let child: ChildProcess | undefined
beforeAll(build, 120_000)
afterEach(() => {
  child?.kill('SIGKILL')
})

/** The service as it is started, but for one thing: SIGUSR2 has its event loop hang for ever, as a computation without end would. */
async function start(environment: Record<string, string>) {
  const folder = tempFolder()
  const hang = join(folder, 'hang.cjs')
  writeFileSync(
    hang,
    `if (require('node:worker_threads').isMainThread)
      process.on('SIGUSR2', () => { require('node:fs').writeSync(1, 'hangs\\n'); for (;;); })`,
  )
  const started = spawn(process.execPath, ['--require', hang, 'dist/start/server.js'], {
    cwd: root,
    env: {
      ...process.env,
      PORT: '0',
      LOG_LEVEL: 'error',
      DATABASE_FILE: join(folder, 'a.sqlite'),
      ...environment,
    },
  })
  child = started
  const printed = { out: '', error: '' }
  started.stdout.on('data', (chunk) => {
    printed.out += chunk
  })
  started.stderr.on('data', (chunk) => {
    printed.error += chunk
  })
  const until = async (text: string) => {
    while (!printed.out.includes(text)) {
      if (started.exitCode !== null) throw new Error(`the service ended: ${printed.error}`)
      await wait(20)
    }
  }
  await until('makes another')
  // The thread starts once all is said.
  await wait(1500)
  const port = Number(/listens on http:\S+:(\d+)\./.exec(printed.out)![1])
  const ended = once(started, 'close') as Promise<[number | null, string | null]>
  const logged = () =>
    printed.out
      .split('\n')
      .filter((line) => line.startsWith('{'))
      .map((line) => JSON.parse(line))
  return { child: started, port, printed, until, ended, logged }
}

/** A request that has come to its route, and is not whole. */
async function begin(port: number): Promise<Connection> {
  const connection = new Connection(port)
  connection.write(
    'POST /v1/vehicle-checks HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 9\r\nExpect: 100-continue\r\n\r\n{',
  )
  await connection.until('100 Continue')
  await wait(100)
  return connection
}

// Found 2026-11: nothing ended a service whose thread did not come back, and neither did SIGTERM, whose handler waits for that thread.
describe('a service whose event loop hangs', () => {
  test('is ended after WATCHDOG_S, and logs which requests were open', async () => {
    const service = await start({ WATCHDOG_S: '2' })
    const connection = await begin(service.port)
    service.child.kill('SIGUSR2')
    expect(await service.ended).toEqual([null, 'SIGKILL'])
    expect(service.logged()).toEqual([
      expect.objectContaining({
        level: 60,
        pid: service.child.pid,
        openRequests: { 'POST /v1/vehicle-checks': 1 },
        msg: 'the event loop did not turn for 2 s: ending the process',
      }),
    ])
    connection.close()
  })

  test('leaves the lines that were logged before', async () => {
    const service = await start({ WATCHDOG_S: '1', LOG_LEVEL: 'info' })
    expect((await fetch(`http://127.0.0.1:${service.port}/livez`)).status).toBe(200)
    service.child.kill('SIGUSR2')
    expect(await service.ended).toEqual([null, 'SIGKILL'])
    expect(service.logged().slice(-2)).toEqual([
      expect.objectContaining({ level: 30, route: '/livez', status: 200 }),
      expect.objectContaining({ level: 60 }),
    ])
  })

  test.each(['SIGTERM', 'SIGHUP'] as const)('is ended by %s long before that', async (signal) => {
    const service = await start({ WATCHDOG_S: '3600' })
    service.child.kill('SIGUSR2')
    await service.until('hangs')
    service.child.kill(signal)
    expect(await service.ended).toEqual([null, 'SIGKILL'])
    expect(service.logged()).toEqual([
      expect.objectContaining({
        openRequests: {},
        msg: 'the event loop did not notice a signal to stop: ending the process',
      }),
    ])
    expect(service.printed.error).toBe('')
  })
})

test('a service whose event loop runs is not ended, even if its stop takes longer than the limit to notice the signal', async () => {
  const service = await start({ WATCHDOG_S: '1', DRAIN_MS: '7000' })
  await wait(2500)
  service.child.kill('SIGTERM')
  expect(await service.ended).toEqual([0, null])
  expect(service.logged()).toEqual([])
})

test('a service that was suspended for longer than WATCHDOG_S goes on', async () => {
  const service = await start({ WATCHDOG_S: '1' })
  service.child.kill('SIGSTOP')
  await wait(3000)
  service.child.kill('SIGCONT')
  await wait(500)
  expect((await fetch(`http://127.0.0.1:${service.port}/livez`)).status).toBe(200)
  service.child.kill('SIGTERM')
  expect(await service.ended).toEqual([0, null])
})
