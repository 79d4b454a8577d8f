import type { FastifyInstance } from 'fastify'
import { NO_PEERS, type Peers } from '../processes/peers.js'
import type { RateCounter, Uses } from './rate-counter.js'

/** How often the processes of a service exchange their counts: what others admit in this time may exceed a limit. */
const EXCHANGE_EVERY_MS = 100

/** Difference between the clock of the machine, which all processes share, and that of this process. */
const OFFSET_MS = Number(process.hrtime.bigint()) / 1e6 - performance.now()

/** Monotonic time, the same in all processes of a machine: the time of day may be set back, and would then lock callers out. */
export const sharedNowMs = (): number => performance.now() + OFFSET_MS

/** Has a counter include what the other processes of the service admit. */
export function shareCounts(app: FastifyInstance, peers: Peers, topic: string, counter: RateCounter): void {
  if (peers === NO_PEERS) return
  peers.hear(topic, (uses) => counter.add(uses as Uses, sharedNowMs()))
  const tell = () => {
    const uses = counter.takeUses()
    if (uses.size > 0) peers.tell(topic, uses)
  }
  // The counter notes what to tell from now on.
  tell()
  const timer = setInterval(tell, EXCHANGE_EVERY_MS).unref()
  app.addHook('onClose', async () => clearInterval(timer))
}
