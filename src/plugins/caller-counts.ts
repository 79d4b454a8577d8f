import type { FastifyRequest } from 'fastify'
import { networkOf } from './client-network.js'

/** The caller that a request counts for: its key, or its address if it has no key. */
export const callerOf = ({ caller, ip }: FastifyRequest): string => caller?.keyId ?? networkOf(ip)

/** Counts the work in progress for each caller. */
export class CallerCounts {
  /** Sum over all callers. */
  all = 0
  private readonly counts = new Map<string, number>()

  of(caller: string): number {
    return this.counts.get(caller) ?? 0
  }

  /** Counts one more. @returns The function to call once when it is done */
  take(caller: string): () => void {
    this.all++
    this.counts.set(caller, this.of(caller) + 1)
    return () => {
      this.all--
      const left = this.of(caller) - 1
      if (left > 0) this.counts.set(caller, left)
      else this.counts.delete(caller)
    }
  }
}
