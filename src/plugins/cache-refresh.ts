import type { FastifyInstance } from 'fastify'

/** How often it is looked whether other processes have changed what is kept. */
const LOOK_EVERY_MS = 1000

/** Has what is held in memory follow the changes of other processes that work on the same store. */
export function registerCacheRefresh(app: FastifyInstance, refreshIfChanged: () => Promise<void>): void {
  const look = () => {
    refreshIfChanged().catch((error: unknown) =>
      app.log.warn({ err: error }, 'cannot look for changes of other processes'),
    )
  }
  const looking = setInterval(look, LOOK_EVERY_MS).unref()
  app.addHook('onClose', async () => clearInterval(looking))
}
