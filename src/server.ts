import cluster from 'node:cluster'
import { setTimeout as wait } from 'node:timers/promises'
import { setFlagsFromString } from 'node:v8'
import { pino } from 'pino'
import { buildApp } from './app.js'
import type { Config } from './config.js'
import { openStore } from './db/open-store.js'
import { LogBuffer } from './plugins/log-buffer.js'
import { startWatchdog } from './plugins/watchdog.js'
import { STOP, STOPPING } from './processes/messages.js'
import { NO_PEERS, ProcessPeers } from './processes/peers.js'
import { speaksForAll } from './processes/speaks-for-all.js'
import { curl, exampleFile } from './program/calls.js'
import type { CallOf } from './program/command.js'

/** Most connections waiting to be accepted: a client beyond that would retry only after a second. */
const BACKLOG = 4096

/**
 * How much the heap may grow before old objects are collected [%]. By default V8 lets it quadruple: a thousand connections that pipeline
 * thousands of requests then take more than 300 MiB.
 */
const HEAP_GROWTH = '--heap-growing-percent=100'

/** Ends the process with the message of the error; its stack would only hide the message. */
function giveUp(error: unknown): never {
  console.error(error instanceof Error ? error.message : error)
  process.exit(1)
}

async function orGiveUp<T>(begin: () => T | Promise<T>): Promise<T> {
  try {
    return await begin()
  } catch (error) {
    return giveUp(error)
  }
}

/** Runs the service until a signal to stop; resolves once it listens and has printed its address. */
export async function startService(config: Config, callOf: CallOf): Promise<void> {
  const log = new LogBuffer()
  const logger = pino({ level: config.logLevel }, log)
  const store = await orGiveUp(() => openStore(config, Date.now))
  const peers = cluster.isWorker ? new ProcessPeers() : NO_PEERS
  const app = await orGiveUp(() => buildApp({ config, store, clock: Date.now, logger, peers }))

  /** Stops gracefully: every accepted request is answered. */
  async function stop(): Promise<void> {
    app.startDraining()
    await wait(config.drainMs)
    await app.endConnections()
    await app.close()
    await store.close()
  }

  let stopping = false
  let noticed = () => {}
  /** Begins to stop. The supervisor of several processes is told; `tools/run.mjs` sees by the closed channel that it has been noticed. */
  function beginToStop(reason: string): void {
    stopping = true
    noticed()
    if (process.connected) {
      if (cluster.isWorker) process.send!(STOPPING)
      else process.disconnect()
    }
    logger.info({ reason }, 'closing')
    stop().then(
      () => process.exit(0),
      (error: unknown) => {
        logger.error({ err: error }, 'close failed')
        process.exit(1)
      },
    )
  }
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) {
    process.on(signal, () => {
      // A second signal ends the process at once, without waiting for requests in flight.
      if (stopping) process.exit(1)
      beginToStop(signal)
    })
  }
  // From the supervisor of several processes, or the one that runs this one for npm: its message, or its end. Unlike a signal, neither counts as
  // a second one.
  process.on('message', (message) => {
    if (message === STOP && !stopping) beginToStop('message')
  })
  // Otherwise Node would end one of several processes at once when the supervisor is gone.
  if (cluster.worker !== undefined) cluster.worker.exitedAfterDisconnect = true
  process.on('disconnect', () => {
    if (!stopping) beginToStop('parent gone')
  })

  setFlagsFromString(HEAP_GROWTH)
  const address = await orGiveUp(() => app.listen({ host: config.host, port: config.port, backlog: BACKLOG }))
  const file = exampleFile('vehicles/cable-changed-axle.json')
  const json = 'content-type: application/json'
  if (speaksForAll())
    console.log(`wheel-to-dial listens on ${address}. Check an example vehicle:

  ${curl(`${address}/v1/vehicle-checks`, { headers: [json], file })}
`)

  // Printed, not logged: logs are stored and read by others.
  const first = await orGiveUp(() => store.keys.createFirst('first start', 'main', 'first key'))
  if (first !== undefined) {
    const name = config.databaseUrl === undefined ? config.databaseFile : 'The database'
    console.log(`${name} is new. Its first key, account main, role admin, is shown this once:

  ${first.secret}

Save the example vehicle with it:

  ${curl(`${address}/v1/vehicles`, { headers: [`authorization: Bearer ${first.secret}`, json], file })}

${callOf('keys', 'create --account main --role reader')}   makes another.
`)
  }

  // Last, so that the start does not wait for the thread.
  const { watchdogS: silentS } = config
  if (silentS > 0)
    noticed = startWatchdog({
      silentS,
      openRequests: app.openRequests,
      log: logger,
      unwritten: log.unwritten,
    })
}
