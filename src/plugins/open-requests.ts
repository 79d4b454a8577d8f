import type { FastifyInstance, FastifyRequest } from 'fastify'

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Where its requests in hand are counted. */
    place?: number
  }
}

/** More routes than there are: those beyond would be counted as one. */
const MAX_ROUTES = 1024

/**
 * Counts the requests in hand by route, in memory that another thread sees: when the thread of the requests does not come back, what keeps it
 * is one of them.
 */
export class OpenRequests {
  /** Method and path of the route at each place. */
  readonly routes: string[] = ['an address where nothing is']
  readonly counts = new Int32Array(new SharedArrayBuffer(4 * MAX_ROUTES))

  /** Register before the first route. */
  register(app: FastifyInstance): void {
    app.addHook('onRoute', (route) => {
      const place = this.routes.length < MAX_ROUTES ? this.routes.push(`${route.method} ${route.url}`) - 1 : 0
      route.config = { ...route.config, place }
    })
  }

  /** Counts a request; its place, for when it is answered. */
  take({ routeOptions }: FastifyRequest): number {
    const place = routeOptions.config.place ?? 0
    this.counts[place]!++
    return place
  }

  done(place: number): void {
    this.counts[place]!--
  }
}
