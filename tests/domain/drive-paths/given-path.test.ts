import { describe, expect, test } from 'vitest'
import { givenStage, headErrors } from '../../../src/domain/drive-paths/given-path.js'
import { correlation } from '../../../src/domain/measure/correlation.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { product } from '../../../src/domain/measure/propagation.js'
import { inLowestTerms } from '../../../src/domain/measure/ratio.js'
import { standardUncertainty } from '../../../src/domain/measure/uncertainty.js'

describe('givenStage(given, index)', () => {
  test('keeps a decimal ratio without uncertainty as a ratio of whole numbers', () => {
    // 3.7 = 37/10
    const { exactRatio } = givenStage({ kind: 'final-drive', ratio: exact(3.7) }, 0)
    expect(inLowestTerms(exactRatio!).toFraction()).toBe('37/10')
  })

  test('has no ratio of whole numbers where the ratio is uncertain', () => {
    expect(
      givenStage({ kind: 'adapter', ratio: uncertain(0.5, 'ratio', 0.01) }, 0).exactRatio,
    ).toBeUndefined()
  })

  test('names the uncertainty by the stage, so that two stages of one name are independent', () => {
    const ratioAt = (index: number) =>
      givenStage({ kind: 'adapter', name: 'box', ratio: uncertain(2, 'ratio', 0.03) }, index).ratio
    expect(ratioAt(1).contributions.map(({ input }) => input)).toEqual(['box (stage 2): ratio'])
    // JCGM 100:2008, 5.1.6: relative uncertainties of a product add in quadrature, 1.5 % and 1.5 %; correlated they would be 3 %.
    expect(standardUncertainty(product(ratioAt(0), ratioAt(1)))).toBeCloseTo(4 * 0.015 * Math.SQRT2, 12)
  })
})

describe('headErrors(given)', () => {
  test('is an exact scale of 1 and no offset where nothing is given', () => {
    expect(headErrors({})).toEqual({ scale: exact(1), offsetMPerS: exact(0) })
  })

  test('halves the 95 % uncertainty of the scale and correlates the offset with it', () => {
    const { scale, offsetMPerS } = headErrors({
      scalePercent: 2,
      scalePercentPlusMinus: 1,
      offsetMPerS: uncertain(-0.5, 'head: offset', 0.2),
      correlation: -0.8,
    })
    // 1 % at k = 2 is a standard uncertainty of 0.005.
    expect(standardUncertainty(scale)).toBeCloseTo(0.005, 15)
    expect(standardUncertainty(offsetMPerS)).toBeCloseTo(0.2, 12)
    expect(correlation(scale, offsetMPerS)).toBeCloseTo(-0.8, 12)
  })
})
