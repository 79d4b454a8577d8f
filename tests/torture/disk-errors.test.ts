import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, test } from 'vitest'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'
import { aVehicle } from '../support/vehicles.js'
import { expectDiskProblem, Ledger } from './support/ledger.js'
import { firstStart, makeFile, recover, Server } from './support/server.js'
import { CAN_TRACE, Fault } from './support/strace.js'

const LONG = process.env.TORTURE === '1'
const WRITERS = 4
const FAULT_MS = 700

const SYNC = 'fsync,fdatasync'

interface Scenario {
  readonly calls: string
  readonly how: string
  readonly detail: RegExp
}

const FAILED = /The disk of the service failed|Look whether it is there/
const FULL = /There is no room on the disk/

// Every few calls from the first to those of a checkpoint, which writes the log back after some thousand writes.
const SCENARIOS: readonly Scenario[] = [
  { calls: SYNC, how: 'error=EIO:when=1+', detail: FAILED },
  { calls: SYNC, how: 'error=EIO:when=2+2', detail: FAILED },
  { calls: 'pwrite64', how: 'error=ENOSPC:when=5+', detail: FULL },
  ...(LONG
    ? [
        { calls: SYNC, how: 'error=ENOSPC:when=1+', detail: FAILED },
        { calls: SYNC, how: 'error=EIO:when=7+', detail: FAILED },
        ...[1, 2, 3, 18, 41, 300, 2000].map((n) => ({
          calls: 'pwrite64',
          how: `error=EIO:when=${n}+`,
          detail: FAILED,
        })),
        ...[1, 2, 3, 18, 41, 300, 2000].map((n) => ({
          calls: 'pwrite64',
          how: `error=ENOSPC:when=${n}+`,
          detail: FULL,
        })),
        { calls: 'pwrite64', how: 'error=EIO:when=3+97', detail: FAILED },
        { calls: 'pwrite64', how: 'error=ENOSPC:when=4+53', detail: FULL },
        { calls: `${SYNC},pwrite64`, how: 'error=EIO:when=30+', detail: FAILED },
        { calls: `${SYNC},pwrite64`, how: 'error=EIO:when=21+13', detail: FAILED },
      ]
    : []),
]

/** Several writers at once until the time is over; how many requests were refused. */
async function writeFor(ledger: Ledger, server: Server, key: string, ms: number): Promise<number> {
  const before = ledger.refused.length
  const endsMs = performance.now() + ms
  const writer = async () => {
    while (performance.now() < endsMs) await ledger.write(server, key)
  }
  await Promise.all(Array.from({ length: WRITERS }, writer))
  return ledger.refused.length - before
}

beforeAll(build, 120_000)

// Where strace is not there or may not look into a process these are skipped, and the report says so.
describe.skipIf(!CAN_TRACE)('with a disk that fails (needs strace)', () => {
  test('what was acknowledged is kept, what was refused is not there, and work goes on when the disk does', {
    timeout: 60_000 + SCENARIOS.length * 10_000,
  }, async () => {
    const file = join(tempFolder(), 'faults.sqlite')
    const { server, key } = await firstStart({ file })
    const ledger = new Ledger()
    for (const { calls, how, detail } of SCENARIOS) {
      const name = `${calls} ${how}`
      // Every other time the log has grown, so that the fault falls on other steps of the same work.
      await writeFor(ledger, server, key, 100)
      const before = ledger.refused.length
      const fault = await Fault.inject(server.pid, calls, how)
      // Late faults need more calls than others make in the time.
      while ((await writeFor(ledger, server, key, FAULT_MS)) === 0);
      for (const { answer } of ledger.refused.slice(before)) expectDiskProblem(answer, detail)
      const read = await server.ask(key, 'GET', '/v1/vehicles?limit=1')
      expect(read.status, name).toBe(200)
      await fault.lift()
      expect(await ledger.write(server, key), name).toBe(true)
    }
    expect(ledger.unanswered).toEqual([])
    await server.kill()
    await recover(file)
    ledger.expectKept(file)
    console.log(
      `${SCENARIOS.length} faults: ${ledger.acknowledged.length} writes acknowledged, ${ledger.refused.length} refused`,
    )
  })

  for (const { calls, how, detail } of LONG ? SCENARIOS : SCENARIOS.slice(0, 1)) {
    test(`${calls} ${how}, then kill -9: what was acknowledged is found, nothing that was refused is`, async () => {
      const file = join(tempFolder(), 'faults.sqlite')
      const { server, key } = await firstStart({ file })
      const ledger = new Ledger()
      await writeFor(ledger, server, key, 50)
      const fault = await Fault.inject(server.pid, calls, how)
      while ((await writeFor(ledger, server, key, FAULT_MS)) === 0);
      for (const { answer } of ledger.refused) expectDiskProblem(answer, detail)
      expect(ledger.unanswered).toEqual([])
      await server.kill()
      await fault.lift()
      await recover(file)
      ledger.expectKept(file)
    })
  }

  test('a write whose sync failed once is refused, does not come back after kill -9, and can be asked for again', async () => {
    const file = join(tempFolder(), 'sync.sqlite')
    const { server, key } = await firstStart({ file })
    const write = (mark: string, on: Server) =>
      on.ask(key, 'POST', '/v1/vehicles', aVehicle({ notes: mark }), { 'idempotency-key': mark })
    const marks = async (on: Server) =>
      (await on.ask(key, 'GET', '/v1/vehicles')).body.vehicles.map((one: { notes: string }) => one.notes)
    expect((await write('first', server)).status).toBe(201)
    const fault = await Fault.inject(server.pid, SYNC, 'error=EIO:when=1')
    expectDiskProblem(await write('second', server), /The disk of the service failed; nothing was changed/)
    await server.kill()
    await fault.lift()
    const next = await new Server({ file }).ready()
    expect(await marks(next)).toEqual(['first'])
    expect((await write('second', next)).status).toBe(201)
    expect((await marks(next)).sort()).toEqual(['first', 'second'])
    await next.stop()
  })

  test('a start on a disk that does not write ends with a sentence and leaves the file', async () => {
    const file = join(tempFolder(), 'start.sqlite')
    await makeFile(file)
    const before = readFileSync(file)
    const failing = new Server({
      file,
      under: ['strace', '-f', '-o', '/dev/null', '-e', 'trace=pwrite64', '-e', 'inject=pwrite64:error=EIO'],
    })
    expect(await failing.exited).toBe(1)
    expect(failing.error).toMatch(/start\.sqlite cannot be used: disk I\/O error/)
    expect(failing.error).not.toMatch(/ at /)
    expect(readFileSync(file).equals(before)).toBe(true)
  })
})
