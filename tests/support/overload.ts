import { setTimeout as wait } from 'node:timers/promises'
import { testApp } from './app.js'
import { Connection, portOf } from './raw.js'

/** Keeps the thread busy, as a long computation does. */
export function burn(ms: number): void {
  const endMs = performance.now() + ms
  while (performance.now() < endMs);
}

/** An application with a route that costs 10 ms of the thread. */
export async function dearApp(environment: Record<string, string>) {
  const app = await testApp(environment)
  app.get('/dear', () => {
    burn(10)
    return 'done'
  })
  return { app, port: await portOf(app) }
}

/** The statuses of the responses received on a connection. */
export const statuses = (received: string) =>
  [...received.matchAll(/HTTP\/1\.1 (\d{3})/g)].map(([, status]) => status)

/** A continuous load: each connection sends its next request as soon as it is answered. */
export function keepAsking(port: number, connections: number) {
  const clients = Array.from({ length: connections }, () => new Connection(port))
  let going = true
  const asking = clients.map(async (client) => {
    for (let n = 1; going; n++) {
      client.write('GET /dear HTTP/1.1\r\nHost: x\r\n\r\n')
      while (statuses(client.received).length < n) await wait(1)
    }
  })
  return {
    answered: () => clients.reduce((sum, { received }) => sum + statuses(received).length, 0),
    stop: async () => {
      going = false
      await Promise.all(asking)
      for (const client of clients) client.close()
    },
  }
}
