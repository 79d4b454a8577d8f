import { describe, expect, test } from 'vitest'
import type { RecordedReport } from '../../../src/domain/fits/report.js'
import { supportedFits } from '../../../src/domain/fits/search.js'
import type { FitResult } from '../../../src/domain/fits/support.js'
import type { Part } from '../../../src/domain/parts/part.js'

const part = (id: string): Part => ({ id, kind: 'cable', name: `Cable ${id}`, interfaces: [] })

const report = (result: FitResult, author: string, model = 'Dorsel Two'): RecordedReport => ({
  id: `${author} ${result}`,
  version: 1,
  createdAt: '2026-05-17T12:00:00.000Z',
  changedAt: '2026-05-17T12:00:00.000Z',
  recordedBy: 'club',
  part: 'a',
  vehicle: { make: 'Fennimark', model, yearFrom: 1962, variant: 'Estate' },
  result,
  evidence: 'road-tested',
  author,
  date: '2026-05-17',
})

describe('supportedFits(found)', () => {
  test('puts the best supported part first, and in it the best supported fit', () => {
    const search = supportedFits([
      { part: part('a'), groups: [{ reports: [report('does-not-fit', 'A')] }] },
      {
        part: part('b'),
        groups: [
          { reports: [report('fits', 'A')] },
          { otherPart: part('c'), reports: [report('fits', 'A'), report('fits', 'B')] },
        ],
      },
    ])
    expect(search.parts.map((one) => one.part)).toEqual([
      { id: 'b', kind: 'cable', name: 'Cable b' },
      { id: 'a', kind: 'cable', name: 'Cable a' },
    ])
    // Rule of succession: 3/4 after two successes, 2/3 after one, 1/3 after one failure (Laplace 1814).
    expect(search.parts.map(({ fits }) => fits.map(({ support }) => support))).toEqual([
      [3 / 4, 2 / 3],
      [1 / 3],
    ])
    expect(search.parts[0]!.fits[0]!.otherPart).toEqual({ id: 'c', kind: 'cable', name: 'Cable c' })
  })

  test('names the vehicles as the first report writes them, without its years and variant', () => {
    const reports = [report('fits', 'A', 'Dorsel Two'), report('fits', 'B', 'DORSEL TWO')]
    const [fit] = supportedFits([{ part: part('a'), groups: [{ reports }] }]).parts[0]!.fits
    expect(fit!.vehicle).toEqual({ make: 'Fennimark', model: 'Dorsel Two' })
  })

  test('weighs all reports of a fit, counts them, and shows the first 200', () => {
    const reports = Array.from({ length: 201 }, (_, n) => report('fits', `author ${n}`))
    const [fit] = supportedFits([{ part: part('a'), groups: [{ reports }] }]).parts[0]!.fits
    expect(fit!.support).toBe(202 / 203)
    expect(fit!.reportCount).toBe(201)
    expect(fit!.reports).toEqual(reports.slice(0, 200))
  })

  test('warns where reports contradict each other, and only there', () => {
    const noted = (...results: FitResult[]) => {
      const reports = results.map((result, n) => report(result, `author ${n}`))
      return [...supportedFits([{ part: part('a'), groups: [{ reports }] }]).notes].map(({ code }) => code)
    }
    expect(noted('fits', 'does-not-fit')).toEqual(['reports-contradict'])
    expect(noted('fits', 'fits-with-work')).toEqual([])
  })
})
