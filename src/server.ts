import cluster from 'node:cluster'
import { setTimeout as wait } from 'node:timers/promises'
import { pino } from 'pino'
import { buildApp } from './app.js'
import { readConfig } from './config.js'
import { openSqliteStore } from './db/sqlite/sqlite-store.js'
import { LogBuffer } from './plugins/log-buffer.js'
import { startWatchdog } from './plugins/watchdog.js'
import { STOP, STOPPING } from './processes/messages.js'
import { NO_PEERS, ProcessPeers } from './processes/peers.js'

/** Most connections waiting to be accepted: a client beyond that would retry only after a second. */
const BACKLOG = 4096

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

async function start(): Promise<void> {
  const config = await orGiveUp(() => readConfig(process.env))
  const log = new LogBuffer()
  const logger = pino({ level: config.logLevel }, log)
  const store = await orGiveUp(() => openSqliteStore({ file: config.databaseFile, clock: Date.now }))
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
  function beginToStop(reason: string): void {
    stopping = true
    noticed()
    if (process.connected) process.send?.(STOPPING)
    logger.info({ reason }, 'closing')
    stop().then(
      () => process.exit(0),
      (error: unknown) => {
        logger.error({ err: error }, 'close failed')
        process.exit(1)
      },
    )
  }
  for (const signal of ['SIGINT', 'SIGTERM'] as const) {
    process.on(signal, () => {
      // A second signal ends the process at once, without waiting for requests in flight.
      if (stopping) process.exit(1)
      beginToStop(signal)
    })
  }
  if (cluster.worker !== undefined) {
    // Unlike a signal, neither the message of the supervisor nor its end counts as a second one: a terminal signals all processes.
    process.on('message', (message) => {
      if (message === STOP && !stopping) beginToStop('supervisor')
    })
    // Otherwise Node would end this process at once when the supervisor is gone.
    cluster.worker.exitedAfterDisconnect = true
    process.on('disconnect', () => {
      if (!stopping) beginToStop('supervisor gone')
    })
  }

  const address = await orGiveUp(() => app.listen({ host: config.host, port: config.port, backlog: BACKLOG }))
  const example = "-H 'content-type: application/json' -d @examples/vehicles/cable-changed-axle.json"
  // The others of several processes listen at the same address.
  if (cluster.worker === undefined || cluster.worker.id === 1)
    console.log(`wheel-to-dial listens on ${address}. Check an example vehicle:

  curl -s ${address}/v1/vehicle-checks ${example}
`)

  // Printed, not logged: logs are stored and read by others.
  const first = await orGiveUp(() => store.keys.createFirst('first start', 'main', 'first key'))
  if (first !== undefined) {
    console.log(`${config.databaseFile} is new. Its first key, account main, role admin, is shown this once:

  ${first.secret}

Save the example vehicle with it:

  curl -s ${address}/v1/vehicles -H 'authorization: Bearer ${first.secret}' ${example}

npm run keys -- create --account main --role reader   makes another.
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

/** Resolves once the service listens and has printed its address. */
export const started = start()
