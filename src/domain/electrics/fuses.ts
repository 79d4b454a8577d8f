import { within } from '../errors.js'

/** Maximum continuous load as a share of a fuse's rating; common practice, no source. */
export const FUSE_LOADING = 0.75

/** Current, as a multiple of the rating, at which a blade fuse opens within 5 s (ISO 8820-3, from memory). */
export const QUICK_OPENING = 2

/** Ratings of blade fuses [A] (ISO 8820-3, from memory). */
export const FUSE_RATINGS_A = [1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 35, 40] as const

/**
 * Smallest standard blade fuse that carries a continuous load, if any.
 *
 *     smallest rating ≥ I / share
 *
 * @param loadA - I, continuous. [0 .. 1e6 A]
 * @param loading - Maximum load as a share of the rating. [0.1 .. 1]
 * @returns Rating [A], or undefined above the largest
 * @throws {DomainError} `out-of-range`
 * @see ISO 8820-3 (ratings, from memory); share of 75 %: common practice, no source
 * @example smallestFuseA(2.1, 0.75) // 3 ± 0
 * @example smallestFuseA(2.25, 0.75) // 3 ± 0
 */
export function smallestFuseA(loadA: number, loading: number): number | undefined {
  within('loading', loading, 0.1, 1)
  const minA = within('loadA', loadA, 0, 1e6) / loading
  // Tolerance, so that a load of exactly 75 % does not fail by rounding.
  return FUSE_RATINGS_A.find((rating) => rating >= minA * (1 - 1e-12))
}

/**
 * Largest standard blade fuse within a current limit, if any.
 *
 *     largest rating ≤ I
 *
 * @param limitA - I, current capacity of the wire. [0 .. 1e6 A]
 * @returns Rating [A], or undefined below the smallest
 * @throws {DomainError} `out-of-range`
 * @see ISO 8820-3 (ratings, from memory)
 * @example largestFuseA(9.9) // 7.5 ± 0
 */
export function largestFuseA(limitA: number): number | undefined {
  within('limitA', limitA, 0, 1e6)
  return FUSE_RATINGS_A.findLast((rating) => rating <= limitA)
}
