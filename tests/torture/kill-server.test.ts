import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { beforeAll, expect, test } from 'vitest'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'
import { Ledger } from './support/ledger.js'
import { makeFile, recover, Server } from './support/server.js'

/** The writers of `tests/db/crash.test.ts` are killed more often: a whole service takes a second to start. */
const ROUNDS = process.env.TORTURE === '1' ? 50 : 2
const CLIENTS = 8

beforeAll(build, 120_000)

test(`${ROUNDS} times kill -9 of the service while it is written to: what was answered is there`, {
  timeout: 60_000 + ROUNDS * 30_000,
}, async () => {
  const file = join(tempFolder(), 'club.sqlite')
  const key = await makeFile(file)
  const ledger = new Ledger()
  for (let round = 0; round < ROUNDS; round++) {
    const server = await new Server({ file }).ready()
    let alive = true
    const client = async () => {
      while (alive) await ledger.write(server, key)
    }
    const clients = Array.from({ length: CLIENTS }, client)
    await wait(200 + Math.random() * 500)
    const killed = server.kill()
    alive = false
    await Promise.all([killed, ...clients])
    await recover(file)
    ledger.expectKept(file)
  }
  expect(ledger.refused.map(({ answer }) => answer.text)).toEqual([])
  expect(ledger.acknowledged.length).toBeGreaterThan(ROUNDS * 5)
  console.log(`${ROUNDS} kills of the service, ${ledger.acknowledged.length} acknowledged writes`)
})
