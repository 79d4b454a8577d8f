/** A test as the look-ahead sees it. */
export interface Split {
  readonly minutes: number
  /** P(fail | link i at fault). */
  readonly failGiven: readonly number[]
}

/** Most links that the look-ahead carries: the likeliest. 2⁸ sets of links are tried at most. */
const MOST_LINKS = 8

/**
 * Least expected minutes to isolation if every test were perfect, by dynamic programming over the sets of links that are still possible.
 *
 *     V(S) = 0 when one link of S holds the share `stopAt`, else minₜ ( minutesₜ + P(S∩T | S)·V(S∩T) + P(S∖T | S)·V(S∖T) )
 *
 * A test counts as covering the links at which it fails more often than not. Links beyond the likeliest eight are left out.
 *
 * @param probabilities - P(i)
 * @param tests - Tests still to be done
 * @param stopAt - Probability at which a link counts as found. [0.5 .. 1)
 * @returns Minutes; where the tests cannot separate the links, until no test separates them further
 * @see Bellman, R. (1957), Dynamic Programming
 * @example perfectMinutes([0.5, 0.25, 0.25], [{ minutes: 5, failGiven: [1, 0, 0] }, { minutes: 10, failGiven: [0, 1, 0] }], 0.95) // 10 ± 1e-12
 */
export function perfectMinutes(
  probabilities: readonly number[],
  tests: readonly Split[],
  stopAt: number,
): number {
  const leading = probabilities
    .map((p, i) => [p, i] as const)
    .filter(([p]) => p > 0)
    .sort((a, b) => b[0] - a[0] || a[1] - b[1])
    .slice(0, MOST_LINKS)
  const weights = leading.map(([p]) => p)
  const cheapest = new Map<number, number>()
  for (const { minutes, failGiven } of tests) {
    let mask = 0
    for (const [bit, [, i]] of leading.entries()) if (failGiven[i]! > 0.5) mask |= 1 << bit
    cheapest.set(mask, Math.min(minutes, cheapest.get(mask) ?? Number.POSITIVE_INFINITY))
  }
  const splits = [...cheapest]
  const size = 1 << weights.length
  const shares = new Float64Array(size)
  const largest = new Float64Array(size)
  for (let set = 1; set < size; set++) {
    const bit = 31 - Math.clz32(set & -set)
    const rest = set & (set - 1)
    shares[set] = shares[rest]! + weights[bit]!
    largest[set] = Math.max(largest[rest]!, weights[bit]!)
  }
  // Subsets come before the sets that hold them, so each is known when it is asked for.
  const least = new Float64Array(size)
  for (let set = 1; set < size; set++) {
    if (largest[set]! >= stopAt * shares[set]!) continue
    let best = Number.POSITIVE_INFINITY
    for (const [mask, minutes] of splits) {
      const fail = set & mask
      const pass = set & ~mask
      if (fail === 0 || pass === 0) continue
      const cost = minutes + (shares[fail]! * least[fail]! + shares[pass]! * least[pass]!) / shares[set]!
      if (cost < best) best = cost
    }
    least[set] = best === Number.POSITIVE_INFINITY ? 0 : best
  }
  return least[size - 1]!
}
