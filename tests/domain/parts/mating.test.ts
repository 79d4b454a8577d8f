import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import {
  compareInterfaces,
  type InterfaceComparison,
  interfaceKey,
  interfaceProbes,
} from '../../../src/domain/parts/mating.js'
import type { BoltCircle, Interface } from '../../../src/domain/parts/part.js'
import { anyInterface } from './interfaces.js'

const mm = (value: number) => exact(value / 1000)
const circle = (bolts: number, diameter: number, rest: Partial<BoltCircle> = {}): BoltCircle => ({
  kind: 'bolt-circle',
  bolts,
  circleDiameterM: mm(diameter),
  ...rest,
})
const thread = (designation: string, gender: 'female' | 'male'): Interface => ({
  kind: 'thread',
  designation,
  gender,
})
const square = (size: number, gender: 'female' | 'male'): Interface => ({
  kind: 'shaft',
  form: 'square',
  sizeM: mm(size),
  gender,
})
const deviationsMm = (comparison: InterfaceComparison | undefined) =>
  Object.fromEntries(
    (comparison?.compared ?? []).map(({ dimension, deviationM }) => [
      dimension,
      +(deviationM.value * 1000).toFixed(9),
    ]),
  )

describe('compareInterfaces(one, other, tolerance)', () => {
  test('a metric cable nut on a 7/8-18 fitting: diameter and five turns of pitch are off', () => {
    const comparison = compareInterfaces(thread('7/8-18', 'male'), thread('M22x1.5', 'female'), 0.0005)
    expect(comparison).toMatchObject({ relation: 'mates', within: true })
    // 22 - 22.225 = -0.225 mm; 5 x (1.5 - 25.4/18) = 0.444444 mm.
    expect(deviationsMm(comparison)).toEqual({ 'major-diameter': -0.225, pitch: 0.444444444 })
    expect(compareInterfaces(thread('7/8-18', 'male'), thread('M22x1.5', 'female'), 0.0004)?.within).toBe(
      false,
    )
  })

  test('threads of different hand or flank angle are not comparable', () => {
    expect(compareInterfaces(thread('M18x1.5', 'male'), thread('M18x1.5 LH', 'female'), 0.01)).toBeUndefined()
    expect(compareInterfaces(thread('3/8-16', 'male'), thread('3/8-16 BSW', 'female'), 0.01)).toBeUndefined()
  })

  test('a 3.3 mm square end in a 3.5 mm square: 0.2 mm clearance; the reverse is interference', () => {
    expect(deviationsMm(compareInterfaces(square(3.3, 'male'), square(3.5, 'female'), 0.0005))).toEqual({
      size: 0.2,
    })
    expect(deviationsMm(compareInterfaces(square(3.5, 'female'), square(3.3, 'male'), 0.0005))).toEqual({
      size: 0.2,
    })
    expect(deviationsMm(compareInterfaces(square(3.5, 'male'), square(3.3, 'female'), 0.0005))).toEqual({
      size: -0.2,
    })
  })

  test('two square ends match: one may replace the other', () => {
    expect(compareInterfaces(square(3.3, 'male'), square(3.2, 'male'), 0.0005)).toMatchObject({
      relation: 'matches',
    })
    expect(deviationsMm(compareInterfaces(square(3.3, 'male'), square(3.2, 'male'), 0.0005))).toEqual({
      size: -0.1,
    })
  })

  test('a square end and a round bore are not comparable', () => {
    expect(compareInterfaces(square(3.3, 'male'), { kind: 'bore', diameterM: mm(3.3) }, 0.01)).toBeUndefined()
  })

  test('a bore mates with a round shaft and matches a bore', () => {
    const bore: Interface = { kind: 'bore', diameterM: mm(20) }
    const shaft: Interface = { kind: 'shaft', form: 'round', sizeM: mm(19.9), gender: 'male' }
    expect(compareInterfaces(bore, shaft, 0.0002)).toMatchObject({ relation: 'mates', within: true })
    expect(compareInterfaces(bore, bore, 0)).toMatchObject({ relation: 'matches', within: true })
  })

  test('the tolerance is closed: 100.5 on 100 mm is within 0.5 mm, although not in binary fractions', () => {
    expect(0.1005 - 0.1 > 0.0005).toBe(true)
    expect(compareInterfaces(circle(4, 100), circle(4, 100.5), 0.0005)?.within).toBe(true)
    expect(compareInterfaces(circle(4, 100), circle(4, 100.51), 0.0005)?.within).toBe(false)
  })

  test('the bolts of the smaller circle must all meet holes of the larger', () => {
    expect(compareInterfaces(circle(4, 100), circle(8, 100), 0.0005)?.sharedBolts).toBe(4)
    expect(compareInterfaces(circle(3, 100), circle(6, 100), 0.0005)?.sharedBolts).toBe(3)
    expect(compareInterfaces(circle(4, 100), circle(6, 100), 0.0005)).toBeUndefined()
    expect(compareInterfaces(circle(4, 100), circle(5, 100), 0.0005)).toBeUndefined()
  })

  test('two plates with 8.5 and 9 mm holes on 100 and 100.4 mm: largest bolt 8.5 mm, holes 0.2 mm apart', () => {
    const comparison = compareInterfaces(
      circle(4, 100, { boltHoleM: mm(8.5) }),
      circle(4, 100.4, { boltHoleM: mm(9) }),
      0.0005,
    )
    // (8.5 + 9)/2 - 0.2 = 8.55, more than the smaller hole.
    expect(comparison?.largestBoltM).toBeCloseTo(0.0085, 12)
    expect(deviationsMm(comparison)).toEqual({ 'circle-diameter': 0.4, 'bolt-hole': 0.5 })
  })

  test('a dimension that only one gives is named, not guessed', () => {
    const comparison = compareInterfaces(circle(4, 100, { boreM: mm(56) }), circle(4, 100), 0.0005)
    expect(comparison).toMatchObject({ notCompared: ['bore'], within: true })
  })

  test('a spigot larger than the bore is interference', () => {
    const hub = circle(4, 100, { boreM: mm(57.1), gender: 'male' })
    const wheel = circle(4, 100, { boreM: mm(56.6), gender: 'female' })
    expect(deviationsMm(compareInterfaces(hub, wheel, 0.001))).toMatchObject({ bore: -0.5 })
  })

  test('the uncertainty of a deviation is that of both readings', () => {
    const one: Interface = { kind: 'bore', diameterM: uncertain(0.02, 'bore', 3e-5) }
    const other: Interface = { kind: 'bore', diameterM: uncertain(0.0202, 'bore', 4e-5) }
    // 2 x sqrt(0.03^2 + 0.04^2) = 0.1 mm.
    expect(plusMinus(compareInterfaces(one, other, 0.001)!.compared[0]!.deviationM)).toBeCloseTo(1e-4, 12)
  })

  test('refuses a meaningless tolerance', () => {
    expect(() => compareInterfaces(circle(4, 100), circle(4, 100), 0.02)).toThrow(
      expect.objectContaining({ code: 'out-of-range' }),
    )
  })

  test('is the same from the side of the other part: mating deviations are equal, matching ones have the opposite sign', () => {
    fc.assert(
      fc.property(anyInterface, anyInterface, fc.integer({ min: 0, max: 10 }), (one, other, tenths) => {
        const there = compareInterfaces(one, other, tenths / 1e4)
        const back = compareInterfaces(other, one, tenths / 1e4)
        expect(back?.within).toBe(there?.within)
        expect(back?.relation).toBe(there?.relation)
        if (there === undefined || back === undefined) return
        const sign = there.relation === 'mates' ? 1 : -1
        for (const line of there.compared) {
          const same = back.compared.find(({ dimension }) => dimension === line.dimension)!
          expect(same.deviationM.value).toBeCloseTo(sign * line.deviationM.value, 12)
        }
      }),
      { numRuns: 1000 },
    )
  })
})

describe('interfaceProbes(one, tolerance)', () => {
  test('find every interface that compares within the tolerance', () => {
    let found = 0
    fc.assert(
      fc.property(anyInterface, anyInterface, fc.integer({ min: 0, max: 10 }), (one, other, tenths) => {
        const toleranceM = tenths / 1e4
        if (compareInterfaces(one, other, toleranceM)?.within !== true) return
        found++
        const key = interfaceKey(other)
        const hits = interfaceProbes(one, toleranceM).filter(
          (probe) =>
            probe.key === key.key &&
            Math.abs(key.primaryM - probe.primaryM) <= probe.primaryToleranceM &&
            Math.abs(key.secondaryM - probe.secondaryM) <= probe.secondaryToleranceM,
        )
        expect(hits).toHaveLength(1)
      }),
      { numRuns: 5000 },
    )
    expect(found).toBeGreaterThan(50)
  })
})
