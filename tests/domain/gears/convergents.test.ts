import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { convergents } from '../../../src/domain/gears/convergents.js'
import { ratioOf } from '../../../src/domain/measure/ratio.js'

const written = (n: number, d: number, most: number) =>
  convergents(ratioOf(n, d), most).map(({ numerator, denominator }) => `${numerator}/${denominator}`)

describe('convergents(target, maxTerm) against published tables', () => {
  test('Brocot (1861), 191/23 = [8; 3, 3, 2]', () => {
    expect(written(191, 23, 1e6)).toEqual(['8/1', '25/3', '83/10', '191/23'])
    expect(convergents(ratioOf(191, 23), 1e6).map(({ partialQuotient }) => partialQuotient)).toEqual([
      8, 3, 3, 2,
    ])
  })

  test('1000/879, by the algorithm of Euclid: 1, 7, 3, 1, 3, 1, 1, 3', () => {
    // 1000 = 1·879 + 121, 879 = 7·121 + 32, 121 = 3·32 + 25, 32 = 1·25 + 7, 25 = 3·7 + 4, 7 = 1·4 + 3, 4 = 1·3 + 1, 3 = 3·1
    expect(written(1000, 879, 1e6)).toEqual([
      '1/1',
      '8/7',
      '25/22',
      '33/29',
      '124/109',
      '157/138',
      '281/247',
      '1000/879',
    ])
  })

  test('Archimedes and Metius: 22/7 and 355/113 for pi', () => {
    const list = written(3141592653, 1000000000, 1000)
    expect(list).toContain('22/7')
    expect(list).toContain('355/113')
  })

  test('a leading 0/1 is left out', () => expect(written(23, 191, 1e6)[0]).toBe('1/8'))
})

test('neighbours differ by one over the product of their denominators', () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 1e6 }), fc.integer({ min: 1, max: 1e6 }), (n, d) => {
      const list = convergents(ratioOf(n, d), 1e12)
      for (let i = 1; i < list.length; i++) {
        const [a, b] = [list[i - 1]!, list[i]!]
        expect(Math.abs(a.numerator * b.denominator - b.numerator * a.denominator)).toBe(1)
      }
      expect(ratioOf(list.at(-1)!.numerator, list.at(-1)!.denominator).equals(ratioOf(n, d))).toBe(true)
    }),
  )
})
