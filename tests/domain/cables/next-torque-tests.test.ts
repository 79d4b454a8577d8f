import fc from 'fast-check'
import { expect, test } from 'vitest'
import { nextTorqueTests } from '../../../src/domain/cables/next-torque-tests.js'

/** Inverse by Gauss-Jordan with pivoting, or undefined when singular: not how the service does it. */
function inverse(matrix: readonly (readonly number[])[]): number[][] | undefined {
  const n = matrix.length
  const work = matrix.map((row, i) => [...row, ...row.map((_, j) => (i === j ? 1 : 0))])
  for (let c = 0; c < n; c++) {
    let p = c
    for (let i = c; i < n; i++) if (Math.abs(work[i]![c]!) > Math.abs(work[p]![c]!)) p = i
    if (Math.abs(work[p]![c]!) < 1e-9) return undefined
    ;[work[c], work[p]] = [work[p]!, work[c]!]
    const pivot = work[c]![c]!
    work[c] = work[c]!.map((x) => x / pivot)
    for (let i = 0; i < n; i++) {
      if (i === c) continue
      const factor = work[i]![c]!
      work[i] = work[i]!.map((x, j) => x - factor * work[c]![j]!)
    }
  }
  return work.map((row) => row.slice(n))
}

const normalMatrix = (rows: readonly (readonly number[])[], u: readonly number[]) =>
  rows[0]!.map((_, i) =>
    rows[0]!.map((_, j) => rows.reduce((sum, row, k) => sum + (row[i]! * row[j]!) / u[k]! ** 2, 0)),
  )

const trace = (matrix: readonly (readonly number[])[]) => matrix.reduce((sum, row, i) => sum + row[i]!, 0)

test('nextTorqueTests(...) finds the largest reduction of the covariance trace over all runs of neighbors', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 2, max: 5 }),
      fc.array(fc.integer({ min: 1, max: 31 }), { minLength: 0, maxLength: 4 }),
      fc.array(fc.double({ min: 0.5, max: 2, noNaN: true }), { minLength: 12, maxLength: 12 }),
      (n, extra, uncertainties) => {
        const names = Array.from({ length: n }, (_, i) => `part ${i + 1}`)
        // Each part alone and the whole in place determine everything; the rest are chance.
        const rows = [
          ...names.map((_, i) => [...names.map((_, j) => (i === j ? 1 : 0)), 0]),
          [...names.map(() => 1), 1],
          ...extra.map((bits) => [...names.map((_, i) => (bits >> i) & 1), 0]),
        ]
        const u = rows.map((_, i) => uncertainties[i]!)
        const sorted = [...u].sort((a, b) => a - b)
        const half = sorted.length >> 1
        const middle = sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2
        const before = trace(inverse(normalMatrix(rows, u))!)
        const candidates: number[][] = [[...names.map(() => 1), 1]]
        for (let from = 0; from < n; from++)
          for (let to = from + 1; to <= n; to++)
            candidates.push([...names.map((_, i) => (i >= from && i < to ? 1 : 0)), 0])
        const best = Math.min(
          ...candidates.map((row) => trace(inverse(normalMatrix([...rows, row], [...u, middle]))!)),
        )
        const [first] = nextTorqueTests(names, rows, u, [])
        expect(first!.uncertaintyReductionPercent).toBeCloseTo(100 * (1 - Math.sqrt(best / before)), 6)
        expect(first!.determines).toEqual([])
      },
    ),
    { numRuns: 60 },
  )
})

test('nextTorqueTests(...) asks for the whole in place when all parts are known and it was not tested', () => {
  const [first] = nextTorqueTests(
    ['a', 'b'],
    [
      [1, 0],
      [0, 1],
    ],
    [1, 1],
    [],
  )
  expect(first).toMatchObject({ parts: ['a', 'b'], assembled: true, determines: ['assembly term'] })
})
