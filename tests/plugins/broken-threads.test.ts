import { EventEmitter } from 'node:events'
import { expect, test, vi } from 'vitest'
import { post, testApp } from '../support/app.js'

/** A pool whose threads cannot start: the job waits until it is told that it is in vain. */
vi.mock('piscina', () => ({
  Piscina: class extends EventEmitter {
    run(_message: unknown, { signal }: { signal: AbortSignal }): Promise<never> {
      setImmediate(() => this.emit('error', new Error('no such file')))
      return new Promise((_, reject) => signal.addEventListener('abort', () => reject(signal.reason)))
    }
    async close(): Promise<void> {}
  },
}))

// Until 2026-11 nobody heard that a thread could not start: the failure ended the process, and with it everything in flight.
test('a job that waits for a thread that cannot start is a 500, and no longer counts for its caller', async () => {
  const app = await testApp({ COMPUTATIONS_PER_CALLER: '1' })
  const points = Array.from({ length: 3000 }, (_, index) => ({ lat: 48 + index * 1e-4, lon: 11 }))
  for (let n = 0; n < 2; n++) {
    const { status, body } = await post(app, '/v1/odometers/track', { points })
    expect([status, body.code]).toEqual([500, 'internal'])
  }
  await app.close()
})
