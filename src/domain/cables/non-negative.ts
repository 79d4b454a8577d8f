import { fcnnlsVector } from 'ml-fcnnls'
import { DomainError } from '../errors.js'

/** Regularization of each unknown, as a share of its length, where the readings leave it free: it only selects one of many equal solutions. */
const REGULARIZATION = 1e-5

/** Maximum slope of the fit against an unknown at its bound, per unit of weighted reading of order one. */
const SLOPE_TOLERANCE = 1e-10

/**
 * Non-negative least squares with weights.
 *
 *     minimum Σ ((yⱼ − Σ Xⱼᵢθᵢ)/uⱼ)²  with all θᵢ ≥ 0
 *
 * X is the design matrix, its rows j the readings.
 *
 * Columns are scaled to unit length first, so that the stopping tolerance means the same for each. Where columns depend on each other the
 * result is the shortest solution; quantities that the readings determine do not depend on this choice.
 *
 * @param rows - Design matrix; one row a reading
 * @param readings - y, of order one
 * @param uncertainties - u of each reading, the largest at most 1e5 times the smallest. [> 0]
 * @param dependent - true when columns depend on each other
 * @returns θ
 * @throws {DomainError} `did-not-converge`
 * @see Lawson and Hanson (1974), Solving Least Squares Problems, ch. 23; Van Benthem and Keenan (2004)
 * @example nonNegativeLeastSquares([[1, 0], [1, 1]], [2, 1], [1, 1], false)[0] // 1.5 ± 1e-12
 */
export function nonNegativeLeastSquares(
  rows: readonly (readonly number[])[],
  readings: readonly number[],
  uncertainties: readonly number[],
  dependent: boolean,
): number[] {
  const columns = rows[0]?.length ?? 0
  const smallest = Math.min(...uncertainties)
  const weights = uncertainties.map((u) => smallest / u)
  const lengths = Array.from({ length: columns }, (_, j) =>
    Math.sqrt(rows.reduce((sum, row, i) => sum + (row[j]! * weights[i]!) ** 2, 0)),
  ).map((length) => length || 1)
  const design = rows.map((row, i) => row.map((entry, j) => (entry * weights[i]!) / lengths[j]!))
  const wanted = readings.map((reading, i) => reading * weights[i]!)
  if (dependent) {
    for (let j = 0; j < columns; j++) {
      design.push(Array.from({ length: columns }, (_, k) => (k === j ? REGULARIZATION : 0)))
      wanted.push(0)
    }
  }
  try {
    const { K } = fcnnlsVector(design, wanted, {
      gradientTolerance: SLOPE_TOLERANCE,
      maxIterations: 100 * columns,
    })
    return lengths.map((length, j) => Math.max(0, K.get(j, 0)) / length)
  } catch (cause) {
    throw new DomainError(
      'did-not-converge',
      'tests: the fit did not converge; look for a torque or an uncertainty that is wrong by powers of ten',
      { pointer: '/tests' },
      { cause },
    )
  }
}
