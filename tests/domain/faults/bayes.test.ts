import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { entropyBits, informationBits, updated } from '../../../src/domain/faults/bayes.js'

const PRIORS = [0.4, 0.25, 0.15, 0.1, 0.06, 0.04]

describe('six links with priors .40 .25 .15 .10 .06 .04, by the definition of entropy', () => {
  test('2.200797 bits are unknown', () => {
    // .4·1.321928 + .25·2 + .15·2.736966 + .1·3.321928 + .06·4.058894 + .04·4.643856
    expect(entropyBits(PRIORS)).toBeCloseTo(2.200797, 6)
  })

  for (const [first, bits] of [
    [1, 0.970951],
    [2, 0.934068],
    [3, 0.721928],
    [4, 0.468996],
    [5, 0.242292],
  ] as const) {
    test(`a perfect test that splits off the first ${first} gives ${bits} bits`, () => {
      expect(
        informationBits(
          PRIORS,
          PRIORS.map((_, i) => (i < first ? 1 : 0)),
        ),
      ).toBeCloseTo(bits, 6)
    })
  }
})

describe('half-split on equal links (US Army IT0338)', () => {
  test('of eight equal links the middle is most informative: one bit, and three such tests find the link', () => {
    const equal = new Array<number>(8).fill(1 / 8)
    const splitAfter = (first: number) =>
      informationBits(
        equal,
        equal.map((_, i) => (i < first ? 1 : 0)),
      )
    const bits = [1, 2, 3, 4, 5, 6, 7].map(splitAfter)
    expect(Math.max(...bits)).toBe(splitAfter(4))
    expect(splitAfter(4)).toBeCloseTo(1, 12)
    expect(entropyBits(equal)).toBeCloseTo(3, 12)
  })
})

describe('Bayes by arithmetic', () => {
  test('1 in 100, sensitivity 0.9, false alarms 0.09: a positive test makes it 1 in 10.9', () => {
    // .009 / (.009 + .0891)
    const { probabilities, probability } = updated([0.01, 0.99], [0.9, 0.09])
    expect(probability).toBeCloseTo(0.0981, 12)
    expect(probabilities[0]).toBeCloseTo(0.009 / 0.0981, 12)
  })

  test('an impossible observation has probability zero', () => {
    expect(updated([1, 0], [0, 1])).toEqual({ probabilities: [0, 0], probability: 0 })
  })
})

const beliefs = fc
  .array(fc.double({ min: 0.001, max: 1, noNaN: true }), { minLength: 1, maxLength: 8 })
  .map((weights) => {
    const total = weights.reduce((a, b) => a + b)
    return weights.map((weight) => weight / total)
  })
const probability = fc.double({ min: 0, max: 1, noNaN: true })

test('informationBits(...) lies between zero and the smaller of one bit and what is unknown', () => {
  fc.assert(
    fc.property(beliefs, fc.array(probability, { minLength: 8, maxLength: 8 }), (belief, fails) => {
      const bits = informationBits(belief, fails)
      expect(bits).toBeGreaterThanOrEqual(0)
      expect(bits).toBeLessThanOrEqual(Math.min(1, entropyBits(belief)) + 1e-12)
    }),
  )
})

test('informationBits(...) is the mutual information H(outcome) − Σ P(i)·H(outcome | i)', () => {
  fc.assert(
    fc.property(beliefs, fc.array(probability, { minLength: 8, maxLength: 8 }), (belief, fails) => {
      const fail = belief.reduce((sum, p, i) => sum + p * fails[i]!, 0)
      const noise = belief.reduce((sum, p, i) => sum + p * entropyBits([fails[i]!, 1 - fails[i]!]), 0)
      expect(informationBits(belief, fails)).toBeCloseTo(entropyBits([fail, 1 - fail]) - noise, 9)
    }),
  )
})

test('updated(...): the order of observations does not matter', () => {
  fc.assert(
    fc.property(
      beliefs,
      fc.array(fc.double({ min: 0.01, max: 0.99, noNaN: true }), { minLength: 16, maxLength: 16 }),
      (belief, given) => {
        const [a, b] = [given.slice(0, 8), given.slice(8)]
        const one = updated(updated(belief, a).probabilities, b).probabilities
        const other = updated(updated(belief, b).probabilities, a).probabilities
        for (const [i, p] of one.entries()) expect(p).toBeCloseTo(other[i]!, 12)
      },
    ),
  )
})
