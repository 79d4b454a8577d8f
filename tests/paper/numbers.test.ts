import { describe, expect, test } from 'vitest'
import {
  decimalsShowing,
  figureText,
  rounded,
  signed,
  trimmed,
  uncertaintyText,
} from '../../src/paper/numbers.js'

// JCGM 100:2008, 7.2.6: uncertainties to at most two significant digits, the estimate rounded to go with them.
describe('digits follow the uncertainty', () => {
  const cases: ReadonlyArray<readonly [number, number | undefined, number, string]> = [
    // The example of 7.2.6: 10.05762 ohm with 27 milliohm.
    [10.05762, 0.027, 1, '10.058 ± 0.027'],
    [91.0546, 2.3128, 1, '91.1 ± 2.3'],
    [1138.18, 28.9, 1, '1138 ± 29'],
    [114_037, 2890, 1, '114000 ± 2900'],
    [1.23456, 0.0996, 1, '1.23 ± 0.10'],
    [-3.456, 0.5, 1, '−3.46 ± 0.50'],
    [60, undefined, 1, '60'],
    [96.56064, undefined, 1, '96.6'],
    [96.56064, 1e-9, 2, '96.56'],
  ]
  for (const [value, uncertainty, decimals, text] of cases) {
    test(text, () => expect(figureText(value, uncertainty, decimals).replaceAll('\u{A0}', ' ')).toBe(text))
  }
})

describe('number formats', () => {
  test('no negative zero, a typographic minus sign', () => {
    expect([rounded(-0.04, 1), rounded(-0.06, 1), rounded(-4, -1)]).toEqual(['0.0', '−0.1', '0'])
  })
  test('scientific notation for large numbers', () => expect(rounded(12_345_678, 1)).toBe('1.23e+7'))
  test('no trailing zeros for exact values', () => {
    expect([trimmed(100, 1), trimmed(0.3, 4), trimmed(4.1111111, 4)]).toEqual(['100', '0.3', '4.1111'])
  })
  test('signs', () => {
    expect([signed('3.5'), signed('−3.5'), signed('0.0'), signed('0.04')]).toEqual([
      '+3.5',
      '−3.5',
      '0.0',
      '+0.04',
    ])
  })
  test('an uncertainty with two digits', () =>
    expect([uncertaintyText(0.456), uncertaintyText(undefined)]).toEqual(['0.46', '']))
  // Wrong until 2026-11: a row that failed by 0.02 mph was written as 40.0 with an error of 0.0.
  test('a nonzero error is not written as zero', () => {
    expect(rounded(-0.02, decimalsShowing(-0.02, 1))).toBe('−0.02')
    expect(rounded(39.98, decimalsShowing(-0.02, 1))).toBe('39.98')
    expect(rounded(0.000_04, decimalsShowing(0.000_04, 1))).toBe('0.00004')
    expect([decimalsShowing(0.3, 1), decimalsShowing(0, 1), decimalsShowing(1e-12, 1)]).toEqual([1, 1, 1])
  })
})
