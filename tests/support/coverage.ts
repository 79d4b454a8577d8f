import { errorFunction } from 'simple-statistics'

const normalCdf = (z: number) => (1 + errorFunction(z / Math.SQRT2)) / 2

/** Places in a tolerance: the middles of so many equal parts. */
const PLACES = 2000

/**
 * Half-width about the estimate that holds a quantity with the probability that ± 2 standard uncertainties hold a normal one, 95.45 %.
 *
 * @param deviationAt - What the quantity deviates by when an input stands at a fraction, -0.025 to 0.015, from its stated value
 * @param u - Standard uncertainty of all else, which is normal
 */
export function evenInterval(deviationAt: (fraction: number) => number, u: number): number {
  const deviations = Array.from({ length: PLACES }, (_, k) =>
    deviationAt(-0.025 + (0.04 * (k + 0.5)) / PLACES),
  )
  const within = (h: number) =>
    deviations.reduce((total, d) => total + normalCdf((h - d) / u) - normalCdf((-h - d) / u), 0) / PLACES
  let [low, high] = [0, 10 * (u + Math.max(...deviations.map(Math.abs)))]
  for (let round = 0; round < 40; round++) {
    const middle = (low + high) / 2
    if (within(middle) < 0.9544997) low = middle
    else high = middle
  }
  return low
}
