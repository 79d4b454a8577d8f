import { DomainError } from '../errors.js'

/** Which columns of a design matrix are independent, and how the others depend on them. */
export interface ColumnDependence {
  /** Columns that span all: the first of each dependent set. */
  readonly basis: readonly number[]
  /** One vector for each column outside the basis: adding it to a solution changes no reading. */
  readonly nullVectors: readonly (readonly number[])[]
}

/** Pivots of 0/1 matrices of this size are 0 or far above it; smaller ones are rounding. */
const ZERO = 1e-9

/**
 * Dependence among the columns of a design matrix, by Gauss-Jordan elimination.
 *
 *     { n : X·n = 0 }, one vector for each column without a pivot
 *
 * X is the design matrix, θ the unknowns.
 *
 * A quantity Σ aᵢθᵢ is determined by the readings exactly when a·n = 0 for every such n.
 *
 * @param rows - Design matrix, entries of order one; one row a reading
 * @param columns - Number of columns
 * @returns Basis columns and null vectors
 * @see any textbook of linear algebra (reduced row echelon form)
 * @example columnDependence([[1, 1, 0], [0, 0, 1]], 3).nullVectors // [[-1,1,0]]
 */
export function columnDependence(rows: readonly (readonly number[])[], columns: number): ColumnDependence {
  const left = rows.map((row) => [...row])
  const basis: number[] = []
  for (let column = 0; column < columns && basis.length < left.length; column++) {
    const at = basis.length
    let pivot = at
    for (let i = at + 1; i < left.length; i++)
      if (Math.abs(left[i]![column]!) > Math.abs(left[pivot]![column]!)) pivot = i
    if (Math.abs(left[pivot]![column]!) < ZERO) continue
    const [row] = left.splice(pivot, 1) as [number[]]
    const scale = row[column]!
    for (let j = 0; j < columns; j++) row[j]! /= scale
    left.splice(at, 0, row)
    for (let i = 0; i < left.length; i++) {
      if (i === at) continue
      const factor = left[i]![column]!
      if (factor !== 0) for (let j = 0; j < columns; j++) left[i]![j]! -= factor * row[j]!
    }
    basis.push(column)
  }
  const nullVectors = Array.from({ length: columns }, (_, free) => free)
    .filter((free) => !basis.includes(free))
    .map((free) => {
      const vector = new Array<number>(columns).fill(0)
      vector[free] = 1
      for (const [i, column] of basis.entries()) {
        const entry = left[i]![free]!
        if (Math.abs(entry) >= ZERO) vector[column] = -entry
      }
      return vector
    })
  return { basis, nullVectors }
}

/**
 * Gain of the weighted least-squares solution: its change with each reading.
 *
 *     G = (XᵀWX)⁻¹·XᵀW,  θ̂ = G·y,  W = diag(1/u²)
 *
 * By orthogonal columns (Gram-Schmidt, done twice), not by the normal equations, which would square the condition number.
 *
 * @param rows - Design matrix with independent columns; one row a reading
 * @param uncertainties - u of each reading. [> 0]
 * @returns G, one row for each column of X, one entry for each reading
 * @throws {DomainError} `not-finite` when the columns depend on each other
 * @see JCGM 100:2008, H.3 (least squares); Gauss-Markov theorem
 * @example leastSquaresGain([[1], [1]], [1, 2])[0][0] // 0.8 ± 1e-12
 */
export function leastSquaresGain(
  rows: readonly (readonly number[])[],
  uncertainties: readonly number[],
): number[][] {
  const columns = rows[0]?.length ?? 0
  const dot = (a: readonly number[], b: readonly number[]) => a.reduce((sum, x, i) => sum + x * b[i]!, 0)
  const weighted = Array.from({ length: columns }, (_, j) =>
    rows.map((row, i) => row[j]! / uncertainties[i]!),
  )
  const orthonormal: number[][] = []
  // triangle[k][j]: share of orthonormal column k in weighted column j.
  const triangle = Array.from({ length: columns }, () => new Array<number>(columns).fill(0))
  for (const [j, column] of weighted.entries()) {
    const rest = [...column]
    for (let pass = 0; pass < 2; pass++) {
      for (const [k, unit] of orthonormal.entries()) {
        const share = dot(unit, rest)
        triangle[k]![j]! += share
        for (let i = 0; i < rest.length; i++) rest[i]! -= share * unit[i]!
      }
    }
    const norm = Math.sqrt(dot(rest, rest))
    if (!(norm > ZERO * Math.sqrt(dot(column, column)))) {
      throw new DomainError('not-finite', 'design: columns depend on each other', {
        name: 'design',
        column: j,
      })
    }
    triangle[j]![j] = norm
    orthonormal.push(rest.map((entry) => entry / norm))
  }
  const gain: number[][] = new Array(columns)
  for (let j = columns - 1; j >= 0; j--) {
    const row = orthonormal[j]!.map((entry, i) => entry / uncertainties[i]!)
    for (let k = j + 1; k < columns; k++)
      for (let i = 0; i < row.length; i++) row[i]! -= triangle[j]![k]! * gain[k]![i]!
    gain[j] = row.map((entry) => entry / triangle[j]![j]!)
  }
  return gain
}
