import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { beforeAll, expect, test, vi } from 'vitest'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'
import { Ledger } from './support/ledger.js'
import { makeFile, recover, Server } from './support/server.js'

const ROUNDS = process.env.TORTURE === '1' ? 50 : 3
const CLIENTS = 8
const BACK_AGAIN = { timeout: 60_000, interval: 100 }

beforeAll(build, 120_000)

/** The processes that a supervisor has started. */
const processesOf = (pid: number) =>
  readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8').split(' ').filter(Boolean).map(Number)

test.skipIf(process.platform !== 'linux')(
  `${ROUNDS} times kill -9 of one or all of the processes of a service while they are written to: what was answered is there`,
  { timeout: 60_000 + ROUNDS * 30_000 },
  async () => {
    const file = join(tempFolder(), 'club.sqlite')
    const key = await makeFile(file)
    const ledger = new Ledger()
    const server = await new Server({ file, environment: { PROCESSES: '3', LOG_LEVEL: 'silent' } }).ready()
    let alive = true
    const client = async () => {
      // A connection that a dead process had accepted fails; the next one is accepted by another process.
      while (alive) if (!(await ledger.write(server, key))) await wait(10)
    }
    const clients = Array.from({ length: CLIENTS }, client)
    for (let round = 0; round < ROUNDS; round++) {
      await wait(300 + Math.random() * 700)
      // Successors of processes that lived shortly start later and later, up to 10 s.
      const pids = await vi.waitFor(() => {
        const alive = processesOf(server.pid)
        expect(alive).not.toEqual([])
        return alive
      }, BACK_AGAIN)
      const victims = round % 5 === 4 ? pids : [pids[Math.floor(Math.random() * pids.length)]!]
      for (const pid of victims) process.kill(pid, 'SIGKILL')
    }
    const before = ledger.acknowledged.length
    await vi.waitFor(() => expect(ledger.acknowledged.length).toBeGreaterThan(before), BACK_AGAIN)
    alive = false
    await Promise.all(clients)
    expect(await server.stop()).toBe(0)
    await recover(file)
    ledger.expectKept(file)
    expect(ledger.refused.map(({ answer }) => answer.text)).toEqual([])
    console.log(
      `${ROUNDS} kills of processes, ${ledger.acknowledged.length} acknowledged writes, ${ledger.unanswered.length} without an answer`,
    )
  },
)
