import { describe, expect, test } from 'vitest'
import { DomainError } from '../../../src/domain/errors.js'
import { completeReport, type GivenReport } from '../../../src/domain/fits/report.js'

const defaults = { author: 'club', today: '2026-12-31', tomorrow: '2027-01-01' }
const about = (years: { yearFrom?: number; yearTo?: number } = {}): GivenReport => ({
  part: 'gear',
  vehicle: { make: 'Fennimark', model: 'Dorsel Two', ...years },
})

function refused(report: GivenReport): unknown {
  try {
    return completeReport(report, defaults)
  } catch (error) {
    if (!(error instanceof DomainError)) throw error
    return [error.code, error.context.pointer]
  }
}

describe('completeReport(report, defaults)', () => {
  test('is by the account and of the day of the request where it names no other', () => {
    expect(completeReport(about(), defaults)).toEqual({ ...about(), author: 'club', date: '2026-12-31' })
    const given = { ...about(), author: 'club adviser', date: '2024-02-29' }
    expect(completeReport(given, defaults)).toEqual(given)
  })

  // The date line: at UTC+14 the day begins 14 hours before that of UTC.
  test('may be dated one day ahead of UTC, and no more', () => {
    expect(completeReport({ ...about(), date: '2027-01-01' }, defaults).date).toBe('2027-01-01')
    expect(refused({ ...about(), date: '2027-01-02' })).toEqual(['date-in-the-future', '/date'])
  })

  test('has its years in order; one alone, and one year twice, are in order', () => {
    expect(refused(about({ yearFrom: 1966, yearTo: 1965 }))).toEqual(['years-crossed', '/vehicle/yearFrom'])
    for (const years of [{ yearFrom: 1966 }, { yearTo: 1965 }, { yearFrom: 1966, yearTo: 1966 }])
      expect(completeReport(about(years), defaults)).toMatchObject(about(years))
  })

  test('is about another part than its own', () => {
    expect(refused({ part: 'gear', otherPart: 'gear' })).toEqual(['fit-with-itself', '/otherPart'])
    expect(completeReport({ part: 'gear', otherPart: 'head' }, defaults).otherPart).toBe('head')
  })
})
