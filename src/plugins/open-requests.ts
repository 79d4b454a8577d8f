import type { FastifyInstance, FastifyRequest } from 'fastify'

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Index at which its open requests are counted. */
    place?: number
  }
}

/** More than there are; further routes would share the count at index 0. */
const MAX_ROUTES = 1024

/**
 * Counts the open requests by route, in memory shared with the watchdog thread: if the main thread hangs, one of them is the cause.
 */
export class OpenRequests {
  /** Method and path of the route at each index. */
  readonly routes: string[] = ['no such route']
  readonly counts = new Int32Array(new SharedArrayBuffer(4 * MAX_ROUTES))

  /** Register before the first route. */
  register(app: FastifyInstance): void {
    app.addHook('onRoute', (route) => {
      const place = this.routes.length < MAX_ROUTES ? this.routes.push(`${route.method} ${route.url}`) - 1 : 0
      route.config = { ...route.config, place }
    })
  }

  /** Counts a request. @returns The index to pass to done() */
  take({ routeOptions }: FastifyRequest): number {
    const place = routeOptions.config.place ?? 0
    this.counts[place]!++
    return place
  }

  done(place: number): void {
    this.counts[place]!--
  }
}
