import { type ChildProcess, spawn } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { Client } from 'undici'
import { afterEach, beforeAll, describe, expect, test } from 'vitest'
import { build } from './support/build.js'
import { Connection } from './support/raw.js'
import { tempFolder } from './support/temp.js'

const root = join(import.meta.dirname, '..')
const example = JSON.parse(readFileSync(join(root, 'examples/vehicles/cable-changed-axle.json'), 'utf8'))
const vehicle = JSON.stringify({ ...example, reference: undefined })
/** Two million pulses: seconds of work, in a thread. */
const LONG = JSON.stringify({
  ...JSON.parse(readFileSync(join(root, 'openapi/openapi.json'), 'utf8')).components.schemas.SimulationRequest
    .examples[0],
})

let child: ChildProcess | undefined
beforeAll(build, 120_000)
afterEach(() => {
  child?.kill('SIGKILL')
})

/** The service as it is started, in a process of its own. */
async function start(environment: Record<string, string> = {}) {
  const started = spawn(process.execPath, ['dist/start/server.js'], {
    cwd: root,
    env: {
      ...process.env,
      PORT: '0',
      LOG_LEVEL: 'error',
      RATE_PER_ADDRESS: '0',
      SHED_AFTER_MS: '0',
      DATABASE_FILE: join(tempFolder(), 'a.sqlite'),
      ...environment,
    },
  })
  child = started
  let printed = ''
  started.stdout.on('data', (chunk) => {
    printed += chunk
  })
  started.stderr.on('data', (chunk) => {
    printed += chunk
  })
  while (!/makes another/.test(printed)) {
    if (started.exitCode !== null) throw new Error(`the service ended: ${printed}`)
    await wait(20)
  }
  const address = /listens on (\S+)\./.exec(printed)![1]!
  const secret = /wtd_[\w-]{43}/.exec(printed)![0]
  const ended = once(started, 'exit') as Promise<[number | null]>
  return { child: started, address, port: Number(new URL(address).port), secret, ended }
}

interface Outcomes {
  answered: number
  readonly wrong: string[]
}

/** Sends requests on one keep-alive connection without a pause until stopped or disconnected. */
async function ask(address: string, secret: string, writes: boolean, outcomes: Outcomes) {
  const client = new Client(address, { keepAliveTimeout: 60_000 })
  for (;;) {
    try {
      const { statusCode, body } = await client.request({
        method: 'POST',
        path: writes ? '/v1/vehicles' : '/v1/vehicle-checks',
        headers: { 'content-type': 'application/json', authorization: `Bearer ${secret}` },
        body: vehicle,
      })
      await body.text()
      if (statusCode === (writes ? 201 : 200)) outcomes.answered++
      else outcomes.wrong.push(String(statusCode))
    } catch (error) {
      const { code } = error as { code?: string }
      if (code !== 'ECONNREFUSED') outcomes.wrong.push(`${code} ${error}`)
      break
    }
  }
  await client.destroy()
}

describe('SIGTERM', () => {
  for (let round = 1; round <= 3; round++) {
    test(`under load fails no request: each is answered, or its connection refused (round ${round})`, async () => {
      const service = await start()
      const outcomes: Outcomes[] = Array.from({ length: 8 }, () => ({ answered: 0, wrong: [] }))
      const clients = outcomes.map((own, n) => ask(service.address, service.secret, n % 2 === 0, own))
      while (outcomes.some(({ answered, wrong }) => answered < 10 && wrong.length === 0)) await wait(5)
      service.child.kill('SIGTERM')
      await Promise.all(clients)
      expect(outcomes.flatMap(({ wrong }) => wrong)).toEqual([])
      expect((await service.ended)[0]).toBe(0)
    })
  }

  test('answers all requests of one chunk, the last with Connection: close', async () => {
    const service = await start()
    const connection = new Connection(service.port)
    const post = `POST /v1/vehicle-checks HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: ${Buffer.byteLength(vehicle)}\r\n\r\n${vehicle}`
    connection.write(post)
    await connection.until('"model"')
    service.child.kill('SIGTERM')
    while (await connects(service.port)) await wait(5)
    connection.write(post.repeat(5))
    await connection.ended
    const heads = connection.received.split(/(?=HTTP\/1\.1 )/).map((answer) => answer.split('\r\n\r\n')[0]!)
    expect(heads.map((head) => head.slice(9, 12))).toEqual(Array(6).fill('200'))
    expect(heads.map((head) => /connection: close/i.test(head))).toEqual([
      false,
      false,
      false,
      false,
      false,
      true,
    ])
    connection.close()
    expect((await service.ended)[0]).toBe(0)
  })

  // Found 2026-11: SIGHUP, of a closed terminal, ended the process at once, and cut its clients off.
  test.each(['SIGTERM', 'SIGHUP'] as const)(
    '(%s) waits for a long request, and takes no new connection meanwhile',
    async (signal) => {
      const service = await start()
      const long = fetch(`${service.address}/v1/signals/simulation`, {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: LONG,
      })
      await wait(200)
      service.child.kill(signal)
      const answer = await long
      expect(answer.status).toBe(200)
      await answer.text()
      expect((await service.ended)[0]).toBe(0)
    },
  )

  test('with DRAIN_MS first says that it is not ready, and goes on answering, new connections too', async () => {
    const service = await start({ DRAIN_MS: '1500' })
    const status = async (path: string) => (await fetch(service.address + path)).status
    expect(await status('/readyz')).toBe(200)
    service.child.kill('SIGTERM')
    while ((await status('/readyz')) === 200) await wait(5)
    expect(await connects(service.port)).toBe(true)
    expect(await status('/v1/units')).toBe(200)
    expect(await status('/livez')).toBe(200)
    expect((await service.ended)[0]).toBe(0)
  })

  test('ends despite an idle connection', async () => {
    const service = await start()
    const idle = new Connection(service.port)
    idle.write('GET /livez HTTP/1.1\r\nHost: x\r\n\r\n')
    await idle.until('alive')
    service.child.kill('SIGTERM')
    expect((await service.ended)[0]).toBe(0)
    idle.close()
  })

  test('a second time ends the process at once', async () => {
    const service = await start({ DRAIN_MS: '600000' })
    service.child.kill('SIGTERM')
    while ((await fetch(`${service.address}/readyz`)).status === 200) await wait(5)
    service.child.kill('SIGTERM')
    expect((await service.ended)[0]).toBe(1)
  })
})

/** Whether a new connection is taken. */
function connects(port: number): Promise<boolean> {
  const connection = new Connection(port)
  return new Promise((resolve) => {
    connection.socket.once('connect', () => resolve(true)).once('error', () => resolve(false))
  }).finally(() => connection.close()) as Promise<boolean>
}
