import type { FastifyInstance } from 'fastify'

/** Refreshes an in-memory cache before each request, so that what one process has stored is seen by the next request to any. */
export function registerCacheRefresh(app: FastifyInstance, refresh: () => Promise<void>): void {
  app.addHook('preHandler', async ({ routeOptions }) => {
    // Without the store, calculations go on with what is in memory; /readyz says that the store refuses.
    if (routeOptions.config.unlimited !== true) await refresh().catch(() => undefined)
  })
}
