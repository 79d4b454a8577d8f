/**
 * What a request counts for in the rate of its caller, spread into the contract of its operation: about the share of its dearest
 * request in one of a tire. Any other counts for one.
 */
const weight = (requests: number) => ({ 'x-rate-weight': requests })

export type RateWeight = ReturnType<typeof weight>

/** Searches, sheets to print and whole lists. */
export const SEARCH = weight(10)

/** What may keep a thread busy for seconds: logs, tracks, simulations, batches and tables. */
export const LONG = weight(50)
