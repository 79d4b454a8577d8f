import fc from 'fast-check'
import { expect, test } from 'vitest'
import { DomainError } from '../../../src/domain/errors.js'
import { chainOf, type LinkGiven, type LinkKind, PRIOR_WEIGHTS } from '../../../src/domain/faults/chain.js'
import { testsOf } from '../../../src/domain/faults/fault-tests.js'
import { nextTest, type Observation } from '../../../src/domain/faults/next-test.js'
import { SYMPTOMS } from '../../../src/domain/faults/symptoms.js'

const kinds = Object.keys(PRIOR_WEIGHTS) as LinkKind[]

const chains = fc
  .array(
    fc.record(
      { kind: fc.constantFrom(...kinds), prior: fc.double({ min: 0, max: 1000, noNaN: true }) },
      { requiredKeys: ['kind'] },
    ),
    { minLength: 1, maxLength: 7 },
  )
  .map((links) => links.map((link, i): LinkGiven => ({ ...link, name: `link ${i}` })))

test('nextTest(...) on any chain and any of its observations: the probabilities add up to one, or the error has a code', () => {
  fc.assert(
    fc.property(chains, fc.array(fc.tuple(fc.nat(), fc.boolean()), { maxLength: 6 }), (links, picks) => {
      let ids: string[]
      try {
        ids = testsOf(chainOf(links), []).map(({ id }) => id)
      } catch (error) {
        expect((error as DomainError).code).toBe('priors-all-zero')
        return
      }
      const symptoms = Object.keys(SYMPTOMS)
      const observations = picks.map(([pick, yes]): Observation => {
        const at = pick % (ids.length + symptoms.length)
        return at < ids.length
          ? { test: ids[at]!, result: yes ? 'fail' : 'pass' }
          : { test: symptoms[at - ids.length]!, result: yes ? 'present' : 'absent' }
      })
      try {
        const state = nextTest(links, observations)
        expect(state.probabilities.reduce((a, b) => a + b, 0)).toBeCloseTo(1, 9)
        expect(state.steps).toHaveLength(observations.length)
        expect(state.next === undefined).toBe(state.status !== 'continue')
        const done = new Set(observations.map((one) => one.test))
        for (const {
          test: one,
          informationBits: bits,
          ifFail,
          ifPass,
          expectedMinutes = 0,
        } of state.ranked) {
          expect(done.has(one.id)).toBe(false)
          expect(bits).toBeGreaterThan(0)
          expect(ifFail.probability + ifPass.probability).toBeCloseTo(1, 9)
          expect(Number.isFinite(expectedMinutes)).toBe(true)
        }
        if (state.next !== undefined) {
          const minimum = Math.min(
            ...state.ranked.flatMap(({ expectedMinutes }) => expectedMinutes ?? Number.POSITIVE_INFINITY),
          )
          expect(state.next.expectedMinutes).toBeCloseTo(minimum, 6)
        }
      } catch (error) {
        if (!(error instanceof DomainError)) throw error
        expect(error.code).toBe('observations-contradict')
      }
    }),
    { numRuns: 60 },
  )
})
