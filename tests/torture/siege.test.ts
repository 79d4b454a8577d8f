import { type ChildProcess, fork } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync, writeFileSync } from 'node:fs'
import { loadavg } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeAll, expect, test } from 'vitest'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import { build } from '../support/build.js'
import { tempFolder } from '../support/temp.js'
import { makeFile, Server } from './support/server.js'

/** How long each siege is measured, from the moment at which its connections stand. */
const SECONDS = 10
const ATTACKS = ['expired keys', 'slow readers', 'pipelined', 'half-open']
const SIEGES: ReadonlyArray<readonly [string, readonly string[]]> = [
  ...ATTACKS.map((attack) => [attack, [attack]] as const),
  ['all at once', ATTACKS],
]

const MEBIBYTE_KIB = 1024

beforeAll(build, 120_000)

const children: ChildProcess[] = []
afterEach(() => {
  for (const child of children.splice(0)) child.kill('SIGKILL')
})

/** Starts a process of `support`, and waits until it says that it has begun. */
async function start(file: string, ...args: readonly string[]): Promise<ChildProcess> {
  const child = fork(join(import.meta.dirname, 'support', file), args, { execArgv: [] })
  children.push(child)
  await once(child, 'message')
  return child
}

/** Largest resident memory of a process since it was last asked [MiB]. */
function peakMib(pid: number): number {
  const kib = Number(/^VmHWM:\s+(\d+) kB$/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))![1])
  // Sets the peak back to what there is now.
  writeFileSync(`/proc/${pid}/clear_refs`, '5')
  return kib / MEBIBYTE_KIB
}

async function expiredKey(file: string): Promise<string> {
  const store = openSqliteStore({ file, clock: Date.now })
  const issued = await store.keys.create('test', {
    account: 'club',
    label: 'of last year',
    role: 'reader',
    expiresAtMs: Date.now() - 1000,
  })
  await store.close()
  return issued!.secret
}

interface Got {
  /** Right answers that came within a second. */
  readonly soon: number
  readonly statuses: Readonly<Record<string, number>>
  readonly okMs: { readonly p50: number; readonly p99: number }
}

/** What the attackers have at this moment, and have been answered. */
interface Attack {
  readonly connections: number
  readonly bytesRead: number
  readonly refused: Readonly<Record<string, number>>
}

/** Asks a process of `support`. */
async function ask<T>(child: ChildProcess, question: object = {}): Promise<T> {
  const answer = once(child, 'message')
  child.send(question)
  return (await answer)[0]
}

/** What the honest callers, with a key and without, get in the time that a siege is measured. */
const gotBy = (honest: ChildProcess) => ask<readonly Got[]>(honest, { seconds: SECONDS })

const soon = (got: readonly Got[]) => got.reduce((sum, one) => sum + one.soon, 0)
const p99 = (got: readonly Got[]) => Math.max(...got.map(({ okMs }) => okMs.p99))

/**
 * The service as it is shipped, besieged by one caller, and beside it two honest ones: one with a key and one without, who ask 25 times a second each.
 * Measured is the share that they get of what they got alone, in one run: right answers within a second. All ask from processes of their own, the attackers'
 * of low priority and the honest callers' of high: so what the honest ones lose, the service took from them, and not the processor that an attack needs.
 */
test.runIf(process.env.TORTURE === '1' && process.platform === 'linux')(
  'honest callers get what they got alone, whatever besieges the service, and no siege takes more than 256 MiB',
  async () => {
    const file = join(tempFolder(), 'club.sqlite')
    const key = await makeFile(file)
    const expired = await expiredKey(file)
    // Without rates, which would only make it easier.
    const server = await new Server({ file }).ready()
    const honest = await start('honest-callers.mjs', server.address, key)
    await gotBy(honest)
    peakMib(server.pid)
    const alone = await gotBy(honest)
    const idleMib = peakMib(server.pid)

    const sieges = []
    for (const [name, attacks] of SIEGES) {
      const attackers = await start('attack.mjs', server.address, expired, ...attacks)
      const got = await gotBy(honest)
      const grownMib = peakMib(server.pid) - idleMib
      const attack = await ask<Attack>(attackers)
      attackers.disconnect()
      await once(attackers, 'exit')
      sieges.push({ name, attack, share: soon(got) / soon(alone), p99Ms: p99(got), grownMib, got })
    }
    console.log(
      [
        `alone: ${soon(alone)} in ${SECONDS} s, p99 ${p99(alone).toFixed(0)} ms, ${idleMib.toFixed(0)} MiB`,
        ...sieges.map(
          ({ name, attack, share, p99Ms, grownMib }) =>
            `${name}: ${share.toFixed(2)} of that, p99 ${p99Ms.toFixed(0)} ms, ${grownMib.toFixed(0)} MiB more; attackers: ${JSON.stringify(attack)}`,
        ),
        `load of the machine: ${loadavg()[0]!.toFixed(1)}`,
      ].join('\n'),
    )
    for (const { name, share, grownMib, got } of sieges) {
      expect(share, `${name}: ${JSON.stringify(got)}`).toBeGreaterThan(0.9)
      expect(grownMib, name).toBeLessThan(256)
    }
  },
  300_000,
)
