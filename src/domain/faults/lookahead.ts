import { informationBits, updated } from './bayes.js'

/** What the look-ahead needs of a test. */
export interface Split {
  readonly minutes: number
  /** P(fail | link i at fault). */
  readonly failGiven: readonly number[]
}

/** A test with less expected information than this is not worth doing [bit]. */
export const MIN_BITS = 1e-3

/** Maximum number of links in the look-ahead, the likeliest: at most 2⁸ sets of links. */
const MAX_LINKS = 8

/** The look-ahead leaves out links below this probability: they hardly lengthen the search. */
const MIN_LIKELY = 1e-3

/** Tests tried one step further ahead: those with the most information per minute. */
const TRIED_AHEAD = 4

/** Information of a test between two equal halves, one covered and one not: 1 for a perfect test [bit]. */
const bitsAtEvenOdds = (failGiven: readonly number[]) =>
  Math.max(MIN_BITS, informationBits([0.5, 0.5], [Math.max(...failGiven), Math.min(...failGiven)]))

/**
 * Minimum expected minutes to isolation if every test were perfect, by dynamic programming over the sets of links that remain possible.
 *
 *     V(S) = 0 when one link of S holds the share `stopAt`, else minₜ ( minutesₜ + P(S∩T | S)·V(S∩T) + P(S∖T | S)·V(S∖T) )
 *
 * S is the set of links that are still possible, T the set that test t covers.
 *
 * A test counts as covering the links at whose fault it fails more often than not. A test that errs costs more minutes: those it needs, at its rate,
 * to give the information of a perfect test between two equal halves. Links beyond the likeliest eight, and those below one in a thousand, are left out.
 *
 * @param probabilities - P(i)
 * @param tests - Tests still to be done
 * @param stopAt - Probability at which a link counts as found. [0.5 .. 1)
 * @returns Minutes; where the tests cannot separate all links, the minutes until no test separates them further
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
    .filter(([p]) => p >= MIN_LIKELY)
    .sort((a, b) => b[0] - a[0] || a[1] - b[1])
    .slice(0, MAX_LINKS)
  const weights = leading.map(([p]) => p)
  const full = (1 << leading.length) - 1
  const cheapest = new Map<number, number>()
  for (const test of tests) {
    const { failGiven } = test
    const minutes = test.minutes / bitsAtEvenOdds(failGiven)
    let mask = 0
    for (const [bit, [, i]] of leading.entries()) if (failGiven[i]! > 0.5) mask |= 1 << bit
    // A test and its complement split alike: the half without the likeliest link represents both.
    if (mask & 1) mask = full & ~mask
    if (mask === 0) continue
    cheapest.set(mask, Math.min(minutes, cheapest.get(mask) ?? Number.POSITIVE_INFINITY))
  }
  const splits = [...cheapest]
  const size = full + 1
  const shares = new Float64Array(size)
  const largest = new Float64Array(size)
  for (let set = 1; set < size; set++) {
    const bit = 31 - Math.clz32(set & -set)
    const rest = set & (set - 1)
    shares[set] = shares[rest]! + weights[bit]!
    largest[set] = Math.max(largest[rest]!, weights[bit]!)
  }
  // A set comes after its subsets, so their values are known.
  const minimum = new Float64Array(size)
  for (let set = 1; set < size; set++) {
    if (largest[set]! >= stopAt * shares[set]!) continue
    let best = Number.POSITIVE_INFINITY
    for (const [mask, minutes] of splits) {
      const fail = set & mask
      const pass = set & ~mask
      if (fail === 0 || pass === 0) continue
      const cost = minutes + (shares[fail]! * minimum[fail]! + shares[pass]! * minimum[pass]!) / shares[set]!
      if (cost < best) best = cost
    }
    minimum[set] = best === Number.POSITIVE_INFINITY ? 0 : best
  }
  return minimum[full]!
}

/**
 * Expected minutes to isolation when a test is done next. The first tests count with their errors, the rest as perfect.
 *
 *     E(t) = minutesₜ + Σₒ P(o)·W(o),   W = 0 when isolated, else minimum E with one test fewer ahead, and V at the end
 *
 * o is an outcome of test t, W the minutes after it.
 *
 * Looking three tests ahead takes about a hundredth more time than the optimum on average for chains of three to six links, and at most a tenth more on each of
 * the hundreds tried; looking two ahead takes a twentieth more on average, and a third more on the worst.
 *
 * @param probabilities - P(i)
 * @param test - Test to do next
 * @param others - Tests that remain after it
 * @param stopAt - Probability at which a link counts as found. [0.5 .. 1)
 * @param ahead - Number of tests that count with their errors, this one included. [1 .. 3]
 * @returns Minutes, this test included
 * @see Bellman, R. (1957), Dynamic Programming
 * @example expectedMinutes([0.5, 0.5], { minutes: 5, failGiven: [1, 0] }, [], 0.95, 2) // 5 ± 1e-12
 */
export function expectedMinutes(
  probabilities: readonly number[],
  test: Split,
  others: readonly Split[],
  stopAt: number,
  ahead: number,
): number {
  const after = (given: readonly number[]) => {
    const { probabilities: left, probability } = updated(probabilities, given)
    return probability > 0 ? probability * minutesFrom(left, others, stopAt, ahead - 1) : 0
  }
  return test.minutes + after(test.failGiven) + after(test.failGiven.map((p) => 1 - p))
}

function minutesFrom(
  probabilities: readonly number[],
  tests: readonly Split[],
  stopAt: number,
  ahead: number,
): number {
  if (Math.max(...probabilities) >= stopAt) return 0
  if (ahead === 0) return perfectMinutes(probabilities, tests, stopAt)
  const useful = tests
    .map((test) => ({ test, rate: informationBits(probabilities, test.failGiven) / test.minutes }))
    .filter(({ test, rate }) => rate * test.minutes >= MIN_BITS)
    .sort((a, b) => b.rate - a.rate)
  if (useful.length === 0) return 0
  const left = useful.map(({ test }) => test)
  return Math.min(
    ...left.slice(0, TRIED_AHEAD).map((test) =>
      expectedMinutes(
        probabilities,
        test,
        left.filter((other) => other !== test),
        stopAt,
        ahead,
      ),
    ),
  )
}
