import { execFile } from 'node:child_process'
import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { promisify } from 'node:util'
import SqliteDatabase from 'better-sqlite3'
import { beforeAll, expect, test } from 'vitest'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'
import { Ledger } from './support/ledger.js'
import { builtProgram, makeFile, Server } from './support/server.js'

const BACKUPS = process.env.TORTURE === '1' ? 10 : 2
const CLIENTS = 4

const root = join(import.meta.dirname, '../..')
const run = promisify(execFile)

/** Runs a built command of the project on a database. */
const tool = (name: 'backup' | 'restore', database: string, file: string) =>
  run(process.execPath, [...builtProgram(name), file], {
    cwd: root,
    env: { ...process.env, DATABASE_FILE: database },
  })

beforeAll(build, 120_000)

test('a backup under write load holds what was acknowledged before it, and is put back only when the service is stopped', {
  timeout: 120_000 + BACKUPS * 20_000,
}, async () => {
  const folder = tempFolder()
  const file = join(folder, 'club.sqlite')
  const key = await makeFile(file)
  const server = await new Server({ file }).ready()
  const ledger = new Ledger()
  let writing = true
  const client = async () => {
    while (writing) await ledger.write(server, key)
  }
  const clients = Array.from({ length: CLIENTS }, client)

  const made: Array<{ path: string; before: number }> = []
  for (let n = 0; n < BACKUPS; n++) {
    const path = join(folder, `backup-${n}.sqlite`)
    const before = ledger.acknowledged.length
    expect((await tool('backup', file, path)).stdout).toMatch(/verified/)
    made.push({ path, before })
    const then = new Ledger()
    then.acknowledged.push(...ledger.acknowledged.slice(0, before))
    then.expectKept(path)
  }

  const refused = tool('restore', file, made[0]!.path)
  await expect(refused).rejects.toMatchObject({
    code: 1,
    stderr: expect.stringMatching(/club\.sqlite is in use; stop the service/),
  })
  // The refusal disturbed nobody.
  const after = ledger.acknowledged.length
  while (ledger.acknowledged.length < after + 10) await new Promise((resolve) => setTimeout(resolve, 10))
  writing = false
  await Promise.all(clients)
  expect([ledger.refused, ledger.unanswered]).toEqual([[], []])
  ledger.expectKept(file)

  // Not in order: the log is left beside the file, and must not be taken for one of the backup's.
  await server.kill()
  expect(existsSync(`${file}-wal`)).toBe(true)
  await tool('restore', file, made[0]!.path)
  const back = await new Server({ file }).ready()
  expect(await ledger.write(back, key)).toBe(true)
  expect(await back.stop()).toBe(0)
  const restored = new SqliteDatabase(file, { readonly: true })
  const count = restored.prepare<[], number>('SELECT count(*) FROM vehicle_revisions').pluck().get()!
  expect(count).toBeGreaterThanOrEqual(made[0]!.before)
  expect(count).toBeLessThan(ledger.acknowledged.length)
  restored.close()
})
