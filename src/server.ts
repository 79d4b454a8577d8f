import { pino } from 'pino'
import { buildApp } from './app.js'
import { readConfig } from './config.js'

const config = readConfig(process.env)
const logger = pino({ level: config.logLevel })
const app = await buildApp({ config, logger })

let stopping = false
for (const signal of ['SIGINT', 'SIGTERM'] as const) {
  process.on(signal, () => {
    if (stopping) return
    stopping = true
    logger.info({ signal }, 'closing')
    app.close().then(
      () => process.exit(0),
      (error: unknown) => {
        logger.error({ err: error }, 'close failed')
        process.exit(1)
      },
    )
  })
}

const address = await app.listen({ host: config.host, port: config.port })
console.log(`wheel-to-dial listens on ${address}. Check an example vehicle:

  curl -s ${address}/v1/vehicle-checks -H 'content-type: application/json' -d @examples/vehicles/cable-changed-axle.json
`)
