import { median } from '../measure/readings.js'
import { columnDependence, leastSquaresGain } from './least-squares.js'
import { ASSEMBLY, holdsJoint, type Joint, jointName } from './torque-test.js'

/** A torque test worth doing. */
export interface NextTorqueTest {
  readonly parts: readonly string[]
  readonly assembled: boolean
  /** Unknowns that become determined by it. */
  readonly determines: readonly string[]
  /** By how much the combined uncertainty of all drags shrinks, root sum of squares; 0 while some drags are undetermined [%]. */
  readonly uncertaintyReductionPercent: number
}

/** Maximum number of tests proposed. */
const MAX_TESTS = 3

interface Weighed extends NextTorqueTest {
  readonly gainsRank: boolean
}

const determinedBy = (rows: readonly (readonly number[])[], columns: number): boolean[] => {
  const { nullVectors } = columnDependence(rows, columns)
  return Array.from({ length: columns }, (_, i) => nullVectors.every((vector) => vector[i] === 0))
}

/** Covariance of the unknowns, where all are determined. */
function covarianceOf(rows: readonly (readonly number[])[], uncertainties: readonly number[]): number[][] {
  const gain = leastSquaresGain(rows, uncertainties)
  return gain.map((left) =>
    gain.map((right) => left.reduce((sum, g, k) => sum + g * right[k]! * uncertainties[k]! ** 2, 0)),
  )
}

/** Share by which the sum of the variances falls with one more measured row of standard uncertainty u. */
function varianceFall(covariance: readonly (readonly number[])[], row: readonly number[], u: number): number {
  const along = covariance.map((line) => line.reduce((sum, c, j) => sum + c * row[j]!, 0))
  const total = covariance.reduce((sum, line, i) => sum + line[i]!, 0)
  const variance = along.reduce((sum, c, i) => sum + c * row[i]!, 0)
  return along.reduce((sum, c) => sum + c * c, 0) / (u * u + variance) / total
}

/**
 * The most informative next torque tests.
 *
 *     first: tests that determine the most unknowns;  then: largest fall of Σ u²(θᵢ) = |C·a|²/(u² + aᵀ·C·a)   (A-optimal choice)
 *
 * θᵢ are the drags, C is their covariance so far, a the row of the new test and u its uncertainty.
 *
 * Candidates are all runs of neighbors, coupled loosely, and the whole, loose and in place: they need no special coupling. A new test is assumed to have
 * the median uncertainty of those given.
 *
 * @param parts - Names in the order of coupling
 * @param design - Rows of the tests given: one column for each part, then one for each joint, and one for the assembly term where a test includes it
 * @param uncertainties - u of each test
 * @param joints - Joints that drag
 * @returns Up to three tests, the most informative first
 * @see optimal design of experiments, A-optimality (NIST/SEMATECH e-Handbook 5.5.2.1)
 * @example nextTorqueTests(['a', 'b'], [[1, 1]], [1], [])[0].parts // ["a"]
 */
export function nextTorqueTests(
  parts: readonly string[],
  design: readonly (readonly number[])[],
  uncertainties: readonly number[],
  joints: readonly Joint[],
): NextTorqueTest[] {
  const u = median(uncertainties)
  // A test in place adds the assembly term even where no test includes it yet.
  const columns = [...parts, ...joints.map(jointName), ...(parts.length > 1 ? [ASSEMBLY] : [])]
  const rows = design.map((row) => [...row, ...new Array<number>(columns.length - row.length).fill(0)])
  const known = determinedBy(rows, columns.length)
  const complete = known.every(Boolean)
  const covariance = complete ? covarianceOf(rows, uncertainties) : []
  const { basis } = columnDependence(rows, columns.length)

  const weigh = (from: number, to: number, assembled: boolean): Weighed => {
    const test = { parts: parts.slice(from, to), assembled }
    const row = [
      ...parts.map((_, i) => (i >= from && i < to ? 1 : 0)),
      ...joints.map((joint) => (holdsJoint(joint, test.parts) ? 1 : 0)),
      ...(parts.length > 1 ? [assembled ? 1 : 0] : []),
    ]
    if (complete) {
      const left = Math.sqrt(1 - varianceFall(covariance, row, u))
      return { ...test, determines: [], uncertaintyReductionPercent: 100 * (1 - left), gainsRank: false }
    }
    const after = [...rows, row]
    const now = determinedBy(after, columns.length)
    return {
      ...test,
      determines: columns.filter((_, i) => now[i]! && !known[i]!),
      uncertaintyReductionPercent: 0,
      gainsRank: columnDependence(after, columns.length).basis.length > basis.length,
    }
  }
  const candidates: Weighed[] = []
  for (let length = 1; length <= parts.length; length++)
    for (let from = 0; from + length <= parts.length; from++)
      candidates.push(weigh(from, from + length, false))
  if (parts.length > 1) candidates.push(weigh(0, parts.length, true))
  return candidates
    .filter(({ gainsRank }) => complete || gainsRank)
    .sort(
      (a, b) =>
        b.determines.length - a.determines.length ||
        b.uncertaintyReductionPercent - a.uncertaintyReductionPercent ||
        a.parts.length - b.parts.length,
    )
    .slice(0, MAX_TESTS)
    .map(({ gainsRank: _, ...test }) => test)
}
