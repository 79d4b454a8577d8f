import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { attributeDrag, type DragResult } from '../../../src/domain/cables/drag.js'
import type { DragPart, TorqueTest } from '../../../src/domain/cables/torque-test.js'
import { DomainError } from '../../../src/domain/errors.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const NAMES = ['a', 'b', 'c', 'd', 'e']
const PARTS = NAMES.map((name): DragPart => ({ name, kind: 'cable' }))

const torques = fc.oneof(
  fc.double({ min: 0, max: 20, noNaN: true }),
  fc.double({ min: 0, max: 0.1, noNaN: true }),
  fc.constantFrom(0, 20),
)
const tests = fc.array(
  fc
    .record(
      {
        parts: fc.subarray(NAMES, { minLength: 1 }),
        torqueNm: torques,
        uncertaintyNm: fc.oneof(fc.constantFrom(0, 1e-9), fc.double({ min: 0, max: 10, noNaN: true })),
        assembled: fc.boolean(),
      },
      { requiredKeys: ['parts', 'torqueNm'] },
    )
    .map((one): TorqueTest => one),
  { minLength: 1, maxLength: 12 },
)

/** Every number of a result. */
function* numbers(value: unknown): Generator<number> {
  if (typeof value === 'number') yield value
  else if (typeof value === 'object' && value !== null)
    for (const inner of Object.values(value)) yield* numbers(inner)
}

/** The result, or undefined where the readings are not informative. */
function attributed(given: readonly TorqueTest[]): DragResult | undefined {
  try {
    return attributeDrag(PARTS, given)
  } catch (error) {
    expect(error).toBeInstanceOf(DomainError)
    expect((error as DomainError).code).toBe('torque-not-informative')
    return undefined
  }
}

describe('attributeDrag(parts, tests) of arbitrary tests', () => {
  test('gives finite numbers, no drag below zero, shares up to 100 %', () => {
    fc.assert(
      fc.property(tests, (given) => {
        const result = attributed(given)
        if (result === undefined) return
        for (const value of numbers(result)) expect(Number.isFinite(value)).toBe(true)
        for (const { dragNm, sharePercent } of result.parts) {
          if (dragNm !== undefined) expect(dragNm.value).toBeGreaterThanOrEqual(0)
          if (sharePercent !== undefined) expect(sharePercent).toBeLessThanOrEqual(100 + 1e-9)
        }
      }),
      { numRuns: 400 },
    )
  })

  test('a part is either determined or in one set that is not distinguishable', () => {
    fc.assert(
      fc.property(tests, (given) => {
        const result = attributed(given)
        if (result === undefined) return
        const open = result.notDistinguishable.flatMap(({ names }) => names)
        expect(new Set(open).size).toBe(open.length)
        for (const { part, dragNm } of result.parts)
          expect(open.includes(part.name)).toBe(dragNm === undefined)
      }),
    )
  })

  test('determined drags do not depend on the order of the tests', () => {
    fc.assert(
      fc.property(tests, (given) => {
        const one = attributed(given)
        const other = attributed([...given].reverse())
        if (one === undefined || other === undefined) return
        const scale = Math.max(...given.map(({ torqueNm }) => torqueNm))
        for (const [i, { dragNm }] of one.parts.entries()) {
          const same = other.parts[i]!.dragNm
          expect(same === undefined).toBe(dragNm === undefined)
          if (dragNm === undefined || same === undefined) continue
          expect(Math.abs(same.value - dragNm.value)).toBeLessThan(1e-5 * scale)
          expect(plusMinus(same)).toBeCloseTo(plusMinus(dragNm), 6)
        }
      }),
    )
  })

  test('the first proposed test determines more, or shrinks the uncertainty', () => {
    fc.assert(
      fc.property(tests, (given) => {
        const result = attributed(given)
        if (result === undefined) return
        const first = result.nextTests[0]!
        if (result.notDistinguishable.length === 0 && result.assembly !== undefined) {
          expect(first.uncertaintyReductionPercent).toBeGreaterThan(0)
          return
        }
        const { parts, assembled } = first
        const again = attributed([...given, { parts, torqueNm: 1, uncertaintyNm: 0.1, assembled }])
        const known = (one: DragResult | undefined) =>
          (one?.parts.filter(({ dragNm }) => dragNm !== undefined).length ?? 0) +
          (one?.assembly === undefined ? 0 : 1)
        expect(known(again)).toBe(known(result) + first.determines.length)
      }),
    )
  })
})
