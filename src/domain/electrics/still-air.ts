import { type Assumption, assumed } from '../measure/assumptions.js'
import { conformityProbability } from '../measure/conformity.js'
import { type Figure, product, scaled, standardUncertainty, sum, uncertain } from '../measure/figure.js'

/** Heat transfer from a small body to still air, radiation included: common practice, no source. [W/(m² K)] */
const STILL_AIR = { least: 5, most: 15 } as const

/** Parts that the range is cut into: the probability is good to half of one. */
const PARTS = 1000

/** Heat that a surface gives off per area and kelvin. */
export interface HeatTransfer {
  readonly wPerM2K: Figure
  /** Not known: any value of the range for still air is as likely as any other. */
  readonly assumed: boolean
}

/**
 * Heat transfer as given, or else that of still air.
 *
 *     h = given, or else anywhere from 5 to 15 W/(m² K)
 *
 * @param given - h, if it is known. [W/(m² K)]
 * @param taken - List of assumptions of the answer; grows by one when still air is taken
 * @returns h, and whether it was assumed
 * @see common practice, no source
 * @example heatTransferOf(undefined, []).wPerM2K.value // 10 ± 0
 */
export function heatTransferOf(given: Figure | undefined, taken: Assumption[]): HeatTransfer {
  const { least, most } = STILL_AIR
  const wPerM2K = assumed(
    given,
    uncertain((least + most) / 2, 'heat given off to still air', (most - least) / 2 / Math.sqrt(3)),
    { field: '/heatTransfer', value: '10 W/(m2 K), from 5 to 15', standing: 'common-practice' },
    taken,
  )
  return { wPerM2K, assumed: given === undefined }
}

/**
 * Probability that a body gives off its heat without passing its limit.
 *
 *     h·X >= Q;  X = A·(T_limit − Tₐ),  Q the heat made at the limit
 *
 * A is the surface that gives off heat, h its heat transfer, Tₐ the temperature around it.
 *
 * The margin h·X − Q is a straight line in h, where the temperature goes with 1/h: a normal distribution of the temperature makes too
 * little of its hot side. An assumed h is uniform, and the probability its mean over that range.
 *
 * @param gives - X, heat given off at the limit by one unit of h. [m² K, or m K along a wire]
 * @param heat - Q. [W, or W/m along a wire]
 * @param heatTransfer - h
 * @returns Probability, 0 to 1
 * @see derived: power balance; JCGM 100:2008, 4.3.7 (uniform over the range)
 * @example staysCoolProbability(exact(0.02 * 22.5), exact(3), heatTransferOf(undefined, [])) // 0.8333 ± 5e-4
 * @example staysCoolProbability(exact(0.02 * 22.5), exact(3), { wPerM2K: exact(7), assumed: false }) // 1 ± 0
 */
export function staysCoolProbability(gives: Figure, heat: Figure, heatTransfer: HeatTransfer): number {
  const holds = (marginW: number, u: number) => conformityProbability(marginW, u, 0, Number.POSITIVE_INFINITY)
  if (!heatTransfer.assumed) {
    const margin = sum(product(heatTransfer.wPerM2K, gives), scaled(heat, -1))
    return holds(margin.value, standardUncertainty(margin))
  }
  const ofGives = standardUncertainty(gives) ** 2
  const ofHeat = standardUncertainty(heat) ** 2
  const common = (standardUncertainty(sum(gives, heat)) ** 2 - ofGives - ofHeat) / 2
  let total = 0
  for (let part = 0; part < PARTS; part++) {
    const h = STILL_AIR.least + ((part + 0.5) / PARTS) * (STILL_AIR.most - STILL_AIR.least)
    const variance = h * h * ofGives - 2 * h * common + ofHeat
    total += holds(h * gives.value - heat.value, Math.sqrt(Math.max(0, variance)))
  }
  return total / PARTS
}
