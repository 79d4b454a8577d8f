import type { FastifyRequest } from 'fastify'
import { networkOf } from './client-network.js'

/** Whose share a request counts to: that of its key, or of its address where it has none. */
export const callerOf = ({ caller, ip }: FastifyRequest): string => caller?.keyId ?? networkOf(ip)

/** Counts what is being done for each caller. */
export class Shares {
  /** For all callers. */
  all = 0
  private readonly counts = new Map<string, number>()

  of(caller: string): number {
    return this.counts.get(caller) ?? 0
  }

  /** Counts one more. @returns What is to be called, once, when it is done */
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
