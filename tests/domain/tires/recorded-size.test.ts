import { describe, expect, test } from 'vitest'
import { DomainError } from '../../../src/domain/errors.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { recordedSize, type SizeRow } from '../../../src/domain/tires/recorded-size.js'

const row = (
  size: string,
  diameterM: number,
  construction: SizeRow['construction'] = 'diagonal',
): SizeRow => ({
  size,
  construction,
  overallDiameterM: exact(diameterM),
})

function refused(given: SizeRow): unknown {
  try {
    return recordedSize(given)
  } catch (error) {
    if (!(error instanceof DomainError)) throw error
    return [error.code, error.context.pointer]
  }
}

describe('recordedSize(row)', () => {
  test('is a row of a size table, by the designation, with the uncertainty of its diameter', () => {
    const overallDiameterM = uncertain(0.717, 'tire: recorded diameter', 0.0015)
    expect(recordedSize({ ...row('g78 - 15', 0), overallDiameterM, sectionWidthM: exact(0.208) })).toEqual({
      designation: 'G78-15',
      overallDiameterM,
      sectionWidthM: 0.208,
      source: 'stored-tire-size',
    })
  })

  test('refuses a size of the built-in table, however it is written', () => {
    for (const size of ['165R15', '165 SR 15'])
      expect(refused(row(size, 0.65, 'radial'))).toEqual(['tire-size-built-in', '/size'])
  })

  // A rim of 15 in is 15 * 25.4 = 381 mm.
  test('is larger than its rim', () => {
    expect(refused(row('G78-15', 0.381))).toEqual(['out-of-range', '/overallDiameter'])
    expect(recordedSize(row('G78-15', 0.3811)).overallDiameterM.value).toBe(0.3811)
  })

  test('is at most 10 m', () => {
    expect(recordedSize(row('G78-15', 10)).overallDiameterM.value).toBe(10)
    expect(refused(row('G78-15', 10.0001))).toEqual(['out-of-range', '/overallDiameter'])
  })

  test('has a construction that its size allows', () => {
    expect(refused(row('G78-15', 0.717, 'radial'))).toEqual(['construction-mismatch', '/construction'])
  })
})
