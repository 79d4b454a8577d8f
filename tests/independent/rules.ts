/** Limits of some rules by their texts, as functions of the true speed. [km/h] */
export interface TextRule {
  readonly id: string
  readonly lower: (v: number) => number
  /** `at`: the speed that was asked about; a bound may hold in a range of speeds only. */
  readonly upper: (v: number, at: number) => number
  readonly distanceFraction?: number
}

export const TEXT_RULES: readonly TextRule[] = [
  // UN R39, 5.3: never under; at most 10 % and 4 km/h over at 40, 80 and 120 km/h, and so between.
  {
    id: 'un-r39',
    lower: (v) => v,
    upper: (v, at) => (at >= 40 - 1e-9 && at <= 120 + 1e-9 ? 1.1 * v + 4 : Number.POSITIVE_INFINITY),
  },
  // AETR, Appendix 1, III.F: 6 km/h and 4 % of the distance in use, 4 km/h and 2 % when installed.
  { id: 'recording-in-use', lower: (v) => v - 6, upper: (v) => v + 6, distanceFraction: 0.04 },
  { id: 'recording-installed', lower: (v) => v - 4, upper: (v) => v + 4, distanceFraction: 0.02 },
]
