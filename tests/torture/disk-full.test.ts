import { spawnSync } from 'node:child_process'
import { closeSync, mkdirSync, openSync, rmSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { afterEach, beforeAll, describe, expect, test } from 'vitest'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'
import { expectDiskProblem, Ledger } from './support/ledger.js'
import { type Answer, firstStart, makeFile, recover, Server } from './support/server.js'

const mayMount =
  process.platform === 'linux' &&
  spawnSync('unshare', ['--mount', 'mount', '-t', 'tmpfs', '-o', 'size=1m', 'none', '/mnt']).status === 0
const mayLimit = spawnSync('prlimit', ['--fsize=1000000', 'true']).status === 0

if (!mayMount) console.log('skipped: no small disk is filled, for nothing may be mounted here')
if (!mayLimit) console.log('skipped: no file is kept from growing, for prlimit does not run here')

const disks: string[] = []

// Lazily: whoever still has a file open there does not keep the test from ending.
afterEach(() => {
  for (const folder of disks.splice(0)) spawnSync('umount', ['--lazy', folder])
})

/** A disk of its own of so many megabytes. */
function smallDisk(megabytes: number): string {
  const folder = join(tempFolder(), 'disk')
  mkdirSync(folder)
  const { status, stderr } = spawnSync(
    'mount',
    ['-t', 'tmpfs', '-o', `size=${megabytes}m`, 'wheel-to-dial', folder],
    { encoding: 'utf8' },
  )
  if (status !== 0) throw new Error(`mount: ${stderr}`)
  disks.push(folder)
  return folder
}

/** Takes all room that is left on the disk of a folder. @returns What gives it back */
function fillUp(folder: string): () => void {
  const filler = join(folder, 'filler')
  const handle = openSync(filler, 'w')
  for (const size of [65_536, 4096, 1]) {
    try {
      for (;;) writeSync(handle, Buffer.alloc(size))
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'ENOSPC') throw error
    }
  }
  closeSync(handle)
  return () => rmSync(filler)
}

/** Asks whether the service is ready until it says so, or names all that is amiss: a write is tried every few seconds. */
async function untilReadiness(server: Server, ...amiss: string[]): Promise<Answer> {
  for (;;) {
    const answer = await server.ask(undefined, 'GET', '/readyz')
    const { ready, detail = '' } = answer.body
    if (amiss.length === 0 ? ready === true : amiss.every((name) => detail.includes(`${name}: `)))
      return answer
    await wait(200)
  }
}

const FULL = /^There is no room on the disk of the service; nothing was changed\.$/

beforeAll(build, 120_000)

describe.skipIf(!mayMount)('on a disk that is full (needs leave to mount)', () => {
  test('writes are refused with the cause, reads and computations go on, and all goes on when there is room', async () => {
    const disk = smallDisk(8)
    const file = join(disk, 'club.sqlite')
    const { server, key } = await firstStart({ file })
    const ledger = new Ledger()
    const write = () => ledger.write(server, key)
    for (let round = 0; round < 3; round++) {
      for (let n = 0; n < 5; n++) expect(await write()).toBe(true)
      const makeRoom = fillUp(disk)
      const before = ledger.refused.length
      // What the log has set aside may take some writes yet.
      while (ledger.refused.length < before + 5) await write()
      for (const { answer } of ledger.refused) expectDiskProblem(answer, FULL)
      const { id } = ledger.acknowledged.at(-1)!
      expect((await server.ask(key, 'GET', `/v1/vehicles/${id}/revisions`)).status).toBe(200)
      expect((await server.ask(key, 'GET', '/v1/vehicles')).status).toBe(200)
      expect((await server.ask(undefined, 'GET', '/v1/tires?size=165R13')).status).toBe(200)
      makeRoom()
      expect(await write()).toBe(true)
    }
    // Filled up by the service itself: no filler, until nothing more fits.
    const before = ledger.refused.length
    while (ledger.refused.length < before + 20) await write()
    for (const { answer } of ledger.refused) expectDiskProblem(answer, FULL)
    await server.kill()
    ledger.expectKept(file)
  }, 240_000)

  test('readyz says so, and that all is well again when there is room', async () => {
    const disk = smallDisk(96)
    const { server, key } = await firstStart({ file: join(disk, 'club.sqlite') })
    expect((await untilReadiness(server)).status).toBe(200)
    for (let round = 0; round < 2; round++) {
      const makeRoom = fillUp(disk)
      // What the log has set aside may take some writes yet.
      const ledger = new Ledger()
      while (ledger.refused.length < 3) await ledger.write(server, key)
      const answer = await untilReadiness(server, 'disk', 'write')
      expect([answer.status, answer.body.code]).toEqual([503, 'not-ready'])
      expect(answer.headers.get('retry-after')).toBe('1')
      expect(answer.text).not.toContain(disk)
      expect((await server.ask(undefined, 'GET', '/livez')).status).toBe(200)
      makeRoom()
      const after = await untilReadiness(server)
      expect([after.status, after.body.checks.every(({ ok }: { ok: boolean }) => ok)]).toEqual([200, true])
      expect(await ledger.write(server, key)).toBe(true)
    }
  }, 120_000)

  test('a start ends with a sentence and leaves the file', async () => {
    const disk = smallDisk(4)
    const file = join(disk, 'club.sqlite')
    await makeFile(file)
    const makeRoom = fillUp(disk)
    const server = new Server({ file })
    expect(await server.exited).toBe(1)
    expect(server.error).toMatch(/club\.sqlite cannot be used: (database or disk is full|disk I\/O error)/)
    expect(server.error).not.toMatch(/ at /)
    makeRoom()
    await recover(file)
  })
})

describe.skipIf(!mayLimit)('where files may not grow (needs prlimit)', () => {
  test('writes are refused with the cause, reads go on, and nothing is half written', async () => {
    const file = join(tempFolder(), 'club.sqlite')
    const { server, key } = await firstStart({ file, under: ['prlimit', '--fsize=1500000'] })
    const ledger = new Ledger()
    while (ledger.refused.length < 5) await ledger.write(server, key)
    for (const { answer } of ledger.refused) expectDiskProblem(answer, /no room|disk of the service failed/)
    expect((await server.ask(key, 'GET', '/v1/vehicles')).status).toBe(200)
    await server.kill()
    await recover(file)
    ledger.expectKept(file)
  }, 120_000)
})
