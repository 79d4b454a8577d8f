import fc from 'fast-check'
import { expect, test } from 'vitest'
import { distinctProducts, productsToMake, waysToMake, wheelSet } from '../../../src/domain/gears/wheels.js'

const sets = fc
  .tuple(fc.array(fc.integer({ min: 1, max: 60 }), { minLength: 1, maxLength: 8 }), fc.boolean())
  .map(([teeth, eachOnce]) => wheelSet(teeth, eachOnce))

/** Every choice of places on the shelf, in ascending order, with repetition if wheels can be used again. */
function choices(length: number, stages: number, again: boolean): number[][] {
  if (stages === 0) return [[]]
  return choices(length, stages - 1, again).flatMap((chosen) => {
    const from = chosen.length === 0 ? 0 : chosen.at(-1)! + (again ? 0 : 1)
    return Array.from({ length: Math.max(0, length - from) }, (_, i) => [...chosen, from + i])
  })
}

test('distinctProducts(wheels, stages) are the products of every choice, each once, ascending', () => {
  fc.assert(
    fc.property(sets, fc.integer({ min: 1, max: 3 }), (wheels, stages) => {
      const products = choices(wheels.teeth.length, stages, !wheels.eachOnce).map((chosen) =>
        chosen.reduce((product, index) => product * wheels.teeth[index]!, 1),
      )
      expect(Array.from(distinctProducts(wheels, stages))).toEqual(
        [...new Set(products)].sort((a, b) => a - b),
      )
    }),
  )
})

test('waysToMake(product, wheels, stages) are all the choices with that product', () => {
  fc.assert(
    fc.property(sets, fc.integer({ min: 1, max: 3 }), fc.nat(), (wheels, stages, pick) => {
      const all = choices(wheels.teeth.length, stages, !wheels.eachOnce).map((chosen) =>
        chosen.map((index) => wheels.teeth[index]!),
      )
      if (all.length === 0) return
      const product = all[pick % all.length]!.reduce((a, b) => a * b, 1)
      const expected = new Set(
        all.filter((chosen) => chosen.reduce((a, b) => a * b, 1) === product).map(String),
      )
      const ways = waysToMake(product, wheels, stages).map(String)
      expect(new Set(ways)).toEqual(expected)
      expect(ways).toHaveLength(expected.size)
    }),
  )
})

test('the largest products stay whole: 400 teeth, three stages', () => {
  expect(Array.from(distinctProducts(wheelSet([399, 400], false), 3))).toEqual([
    399 ** 3,
    399 ** 2 * 400,
    399 * 400 ** 2,
    400 ** 3,
  ])
})

test('more than 200 wheels, or a wheel of 401 teeth, is refused', () => {
  const counts = (length: number) => Array.from({ length }, (_, i) => i + 1)
  expect(wheelSet(counts(200), false).teeth).toHaveLength(200)
  for (const teeth of [counts(201), [401], [0], [1.5], []])
    expect(() => wheelSet(teeth, false)).toThrow(expect.objectContaining({ code: 'out-of-range' }))
})

test('productsToMake(wheels, stages) counts the choices of wheels of every number of stages', () => {
  for (const stages of [1, 2, 3])
    for (const wheels of [1, 2, 5, 9]) {
      let expected = 0
      for (let s = 1; s <= stages; s++) expected += choices(wheels, s, true).length
      expect(
        productsToMake(
          wheelSet(
            Array.from({ length: wheels }, (_, i) => i + 1),
            false,
          ),
          stages,
        ),
      ).toBe(expected)
    }
})
