import { type Figure, product, quotient, scaled, standardUncertainty } from '../measure/figure.js'

/**
 * How the reading answers to the number that can be set: it falls as a constant (turns or pulses per distance) is raised,
 * and rises with a scaler ratio.
 */
export type Setting = 'constant' | 'scaler-ratio'

export interface NextSetting {
  /** Value at which the dial reads true. */
  readonly forTrue: Figure
  /** Value at which it reads just so much over that under-reading has a probability of 5 %. */
  readonly neverUnder: number
  /** By how much it then reads over [%]. */
  readonly neverUnderOverPercent: number
}

/** One-sided 95 % quantile of the normal distribution. */
const Z_ONE_SIDED_95 = 1.6448536269514722

/**
 * The number to set next, from the one that is set now and the scale found.
 *
 *     constant' = constant·b      ratio' = ratio/b      never under: aim at 1 + 1.645·u(b)/b in place of 1
 *
 * Corrects the slope only: an offset is of the head and stays.
 *
 * @param setting - What can be set
 * @param now - What is set now; unit of the answer
 * @param scale - b, indicated per true with that setting
 * @returns The value for a true reading, and the value for one that hardly ever lies under
 * @throws {DomainError} `not-finite`
 * @see EU 165/2014, Annex I (indicated over true is w/k); JCGM 106:2012, 8.3.2 (guard band)
 * @example nextSetting('constant', exact(1000), exact(1.05)).forTrue.value // 1050 ± 1e-9
 * @example nextSetting('scaler-ratio', exact(0.5), exact(1.25)).forTrue.value // 0.4 ± 1e-12
 */
export function nextSetting(setting: Setting, now: Figure, scale: Figure): NextSetting {
  const aim = 1 + (Z_ONE_SIDED_95 * standardUncertainty(scale)) / scale.value
  const forTrue = setting === 'constant' ? product(now, scale) : quotient(now, scale)
  return {
    forTrue,
    neverUnder: scaled(forTrue, setting === 'constant' ? 1 / aim : aim).value,
    neverUnderOverPercent: 100 * (aim - 1),
  }
}
