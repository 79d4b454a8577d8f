import type { FastifyInstance } from 'fastify'

/** How often to check for changes by other processes. */
const REFRESH_EVERY_MS = 1000

/** Refreshes an in-memory cache at an interval, so that it follows the changes that other processes make in the same store. */
export function registerCacheRefresh(app: FastifyInstance, refreshIfChanged: () => Promise<void>): void {
  const refresh = () => {
    refreshIfChanged().catch((error: unknown) =>
      app.log.warn({ err: error }, 'cannot check for changes by other processes'),
    )
  }
  const timer = setInterval(refresh, REFRESH_EVERY_MS).unref()
  app.addHook('onClose', async () => clearInterval(timer))
}
