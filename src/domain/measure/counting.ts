import { finite } from '../errors.js'

/**
 * Standard uncertainty of a count between two points, from the resolution of the counter.
 *
 *     u = q/√6
 *
 * Start and end each lie anywhere within one step q of the counter (uniform, q²/12 each); their difference is triangular.
 *
 * @param step - q: 1 for whole pulses, or the smallest fraction of a turn read. [> 0]
 * @returns u, k = 1, unit of the step
 * @throws {DomainError} `not-finite`
 * @see JCGM 100:2008, 4.3.7, 4.3.9, F.2.2.1 (resolution of an indication)
 * @example countUncertainty(1) // 0.408248290 ± 1e-9
 */
export function countUncertainty(step: number): number {
  return finite('step', step) / Math.sqrt(6)
}
