import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  EVIDENCE_WEIGHT,
  type Evidence,
  type FitReport,
  supportOf,
} from '../../../src/domain/fits/support.js'

const EVIDENCE = Object.keys(EVIDENCE_WEIGHT) as Evidence[]

const report: fc.Arbitrary<FitReport> = fc.record({
  result: fc.constantFrom<FitReport['result']>('fits', 'fits-with-work', 'does-not-fit'),
  evidence: fc.constantFrom(...EVIDENCE),
  author: fc.constantFrom('Ada', 'Bert', 'Cleo', 'Dora'),
})
const reports = fc.array(report, { maxLength: 12 })

const said = (result: FitReport['result'], evidence: FitReport['evidence'], author: string): FitReport => ({
  result,
  evidence,
  author,
})

describe('supportOf(reports)', () => {
  // Rule of succession: (s + 1)/(n + 2) after s successes in n trials (Laplace 1814).
  test.each([
    [0, 0, 1 / 2],
    [1, 0, 2 / 3],
    [2, 0, 3 / 4],
    [8, 0, 9 / 10],
    [1, 1, 1 / 2],
    [3, 1, 4 / 6],
    [0, 2, 1 / 4],
  ])('%d people drove it, %d found that it does not fit: %d', (agreeing, against, expected) => {
    const all = [
      ...Array.from({ length: agreeing }, (_, i) => said('fits', 'road-tested', `for ${i}`)),
      ...Array.from({ length: against }, (_, i) => said('does-not-fit', 'road-tested', `against ${i}`)),
    ]
    expect(supportOf(all).support).toBeCloseTo(expected, 12)
  })

  test('weaker evidence moves the score less, in the order given', () => {
    const scores = EVIDENCE.map((evidence) => supportOf([said('fits', evidence, 'Ada')]).support)
    // 2/3; 1.75/2.75; 1.5/2.5 twice; 1.1/2.1.
    const expected = [2 / 3, 7 / 11, 3 / 5, 3 / 5, 11 / 21]
    for (const [index, score] of scores.entries()) expect(score).toBeCloseTo(expected[index]!, 12)
  })

  test('one author counts once a side, with the best evidence', () => {
    const once = supportOf([said('fits', 'road-tested', 'Ada')])
    expect(supportOf([said('fits', 'road-tested', 'Ada'), said('fits', 'hearsay', 'Ada')])).toEqual(once)
    expect(supportOf([said('fits', 'hearsay', 'ada '), said('fits', 'road-tested', 'Ada')])).toEqual(once)
  })

  test('fits-with-work supports the fit and speaks against fitting as it is', () => {
    expect(supportOf([said('fits-with-work', 'road-tested', 'Ada')])).toEqual({
      support: 2 / 3,
      supportAsIs: 1 / 3,
      agreement: 'agree',
    })
  })

  test('says where reports contradict each other, and where they differ on the work alone', () => {
    const fits = said('fits', 'measured', 'Ada')
    const work = said('fits-with-work', 'measured', 'Bert')
    const not = said('does-not-fit', 'hearsay', 'Cleo')
    expect(supportOf([fits, fits]).agreement).toBe('agree')
    expect(supportOf([not]).agreement).toBe('agree')
    expect(supportOf([fits, work]).agreement).toBe('differ-on-work')
    expect(supportOf([fits, work, not]).agreement).toBe('contradict')
    expect(supportOf([work, not]).agreement).toBe('contradict')
  })

  test('one more report that it fits never lowers the score, one more against never raises it', () => {
    fc.assert(
      fc.property(reports, report, (before, one) => {
        const { support, supportAsIs } = supportOf(before)
        const after = supportOf([...before, one])
        if (one.result === 'does-not-fit') {
          expect(after.support).toBeLessThanOrEqual(support)
          expect(after.supportAsIs).toBeLessThanOrEqual(supportAsIs)
        } else {
          expect(after.support).toBeGreaterThanOrEqual(support)
        }
        if (one.result === 'fits') expect(after.supportAsIs).toBeGreaterThanOrEqual(supportAsIs)
      }),
      { numRuns: 2000 },
    )
  })

  test('stays inside 0 to 1, with as-is never above, whatever the order of the reports', () => {
    fc.assert(
      fc.property(reports, (all) => {
        const score = supportOf(all)
        expect(score.support).toBeGreaterThan(0)
        expect(score.support).toBeLessThan(1)
        expect(score.supportAsIs).toBeLessThanOrEqual(score.support)
        expect(supportOf([...all].reverse())).toEqual(score)
      }),
    )
  })
})
