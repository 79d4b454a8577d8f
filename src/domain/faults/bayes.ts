/**
 * Entropy of a probability distribution: how much is still unknown.
 *
 *     H = −Σ pᵢ·log₂ pᵢ   [bit],  0·log 0 = 0
 *
 * @param probabilities - pᵢ, with the sum one
 * @returns H [bit]
 * @see Shannon, C. E. (1948), A Mathematical Theory of Communication, section 6
 * @example entropyBits([0.4, 0.25, 0.15, 0.1, 0.06, 0.04]) // 2.200797 ± 1e-6
 */
export function entropyBits(probabilities: readonly number[]): number {
  let bits = 0
  for (const p of probabilities) if (p > 0) bits -= p * Math.log2(p)
  return bits
}

/**
 * Bayes' rule over the links of a chain, one of them at fault.
 *
 *     P(i | o) = P(i)·P(o | i) / Σⱼ P(j)·P(o | j)
 *
 * @param probabilities - P(i) before
 * @param likelihoods - P(o | i): probability of the observation when link i is at fault
 * @returns P(i | o), and P(o) of the observation; all zero when it is impossible
 * @see Bayes' rule, any textbook of probability
 * @example updated([0.5, 0.5], [0.9, 0.1]).probabilities[0] // 0.9 ± 1e-12
 */
export function updated(
  probabilities: readonly number[],
  likelihoods: readonly number[],
): { probabilities: number[]; probability: number } {
  const joint = probabilities.map((p, i) => p * likelihoods[i]!)
  const probability = joint.reduce((sum, p) => sum + p, 0)
  return {
    probabilities: probability > 0 ? joint.map((p) => p / probability) : joint,
    probability,
  }
}

/**
 * Expected information gain of a test.
 *
 *     I = H(prior) − Σₒ P(o)·H(prior | o)   [bit];  for a perfect test I = H(P_fail)
 *
 * H is the entropy in bits, o an outcome: the test fails or passes.
 *
 * @param probabilities - P(i)
 * @param failGiven - P(test fails | link i at fault)
 * @returns I [bit], never below zero
 * @see Shannon (1948), section 12; half-split on equal links: US Army IT0338
 * @example informationBits([0.4, 0.25, 0.15, 0.1, 0.06, 0.04], [1, 0, 0, 0, 0, 0]) // 0.970951 ± 1e-6
 * @example informationBits([0.25, 0.25, 0.25, 0.25], [1, 1, 0, 0]) // 1 ± 1e-12
 */
export function informationBits(probabilities: readonly number[], failGiven: readonly number[]): number {
  const fail = updated(probabilities, failGiven)
  const pass = updated(
    probabilities,
    failGiven.map((p) => 1 - p),
  )
  const after =
    fail.probability * entropyBits(fail.probabilities) + pass.probability * entropyBits(pass.probabilities)
  return Math.max(0, entropyBits(probabilities) - after)
}
