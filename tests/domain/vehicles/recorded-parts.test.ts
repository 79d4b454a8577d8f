import { describe, expect, test } from 'vitest'
import type { FitReport } from '../../../src/domain/fits/support.js'
import { withReports } from '../../../src/domain/vehicles/recorded-parts.js'
import type { RecordedPart } from '../../../src/domain/vehicles/vehicle.js'

const head: RecordedPart = { id: 'a', kind: 'head', name: 'Head', input: 'turns' }
const fits = (author: string): FitReport => ({ result: 'fits', evidence: 'road-tested', author })

describe('withReports(part, reports)', () => {
  test('is the part as it is where nobody reports on it: 0.5 would look like a finding', () => {
    expect(withReports(head, [])).toEqual(head)
  })

  // Rule of succession: 22/23 after 21 successes (Laplace 1814).
  test('counts all reports and shows the first 20', () => {
    const reports = Array.from({ length: 21 }, (_, n) => fits(`author ${n}`))
    expect(withReports(head, reports)).toEqual({
      ...head,
      support: 22 / 23,
      reports: reports.slice(0, 20),
    })
  })
})
