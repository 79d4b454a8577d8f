import type { HealthStore, StoreFigures } from '../store/health.js'
import type { Session } from './session.js'

/** What only the database itself knows. */
export type Measured = Omit<StoreFigures, 'backedUpAtMs'>

/** @param measure - Reads the schema version and measures the storage */
export function healthStore(session: Session, measure: () => Promise<Measured>): HealthStore {
  const { prepare, nowMs } = session
  const one = prepare<{ one: 1 }>('SELECT one FROM health')
  const probe = prepare('UPDATE health SET probed_at_ms = ?, probes = probes + 1')
  const backedUp = prepare<{ backed_up_at_ms: number | null }>('SELECT backed_up_at_ms FROM health')
  const backedUpAt = session.read(function* () {
    return (yield* backedUp.get())!.backed_up_at_ms
  })
  return {
    read: session.read(function* () {
      yield* one.get()
    }),
    write: session.write(() => probe.run(nowMs())),
    async figures() {
      const [backedUpAtMs, measured] = await Promise.all([backedUpAt(), measure()])
      return backedUpAtMs === null ? measured : { ...measured, backedUpAtMs }
    },
  }
}
