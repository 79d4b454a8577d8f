import { describe, expect, test } from 'vitest'
import { stepDownInputA } from '../../../src/domain/electrics/converter.js'
import { loadDumpClamp } from '../../../src/domain/electrics/load-dump.js'
import { type SupplyRequest, supply } from '../../../src/domain/electrics/supply.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const display = { name: 'display', currentA: exact(0.5), feed: 'converter' } as const
const stepDown: SupplyRequest = {
  system: '12-volt',
  code: 'A',
  loads: [display],
  converter: { kind: 'step-down', outputV: exact(5), efficiencyPercent: 85, dropoutV: exact(1) },
}
const check = (request: SupplyRequest, kind: string, level?: string) =>
  supply(request).checks.find((one) => one.kind === kind && one.level === level)

describe('power balance of the converter', () => {
  test('5 V, 0.5 A, 85 %, 12 V: 2.5 W/(0.85 x 12 V) = 0.245098 A', () => {
    expect(stepDownInputA(exact(5), exact(0.5), exact(0.85), exact(12)).value).toBeCloseTo(2.5 / 10.2, 12)
  })
  test('input power is output power and heat at every point', () => {
    for (const kind of ['step-down', 'linear'] as const) {
      const { points } = supply({
        ...stepDown,
        converter: { kind, outputV: exact(5), ownCurrentA: exact(0.01), dropoutV: exact(1) },
      })
      for (const { supplyV, currentA, converterHeatW } of points) {
        expect(supplyV.value * currentA.value).toBeCloseTo(2.5 + converterHeatW.value, 9)
      }
    }
  })
  test('a step-down converter draws the highest current at the lowest supply, a linear one the same everywhere', () => {
    const { points, largestCurrentA } = supply(stepDown)
    expect(points.map(({ supplyV }) => supplyV.value)).toEqual([6, 12, 16])
    expect(largestCurrentA.value).toBeCloseTo(2.5 / (0.85 * 6), 12)
    const linear = supply({
      ...stepDown,
      converter: { kind: 'linear', outputV: exact(5), dropoutV: exact(1) },
    })
    expect(new Set(linear.points.map(({ currentA }) => currentA.value))).toEqual(new Set([0.5]))
    // (16 - 5) V x 0.5 A.
    expect(linear.points[2]?.converterHeatW.value).toBeCloseTo(5.5, 12)
  })
  test('loads on the battery add up; the same current twice is two loads, not one', () => {
    const result = supply({
      system: '12-volt',
      loads: [
        { name: 'lamp', currentA: uncertain(1, 'load 1: lamp', 0.03), feed: 'battery' },
        { name: 'lamp', currentA: uncertain(1, 'load 2: lamp', 0.04), feed: 'battery' },
      ],
    })
    expect(result.largestCurrentA.value).toBe(2)
    expect(plusMinus(result.largestCurrentA)).toBeCloseTo(0.1, 12)
    expect(result.minFuseA).toBe(3)
  })
})

describe('ISO 16750-2:2010, 12 V: 6, 8, 9, 10.5 to 16 V; load dump 79 to 101 V, 0.5 to 4 ohm, 40 to 400 ms', () => {
  test.each([
    ['A', 6],
    ['B', 8],
    ['C', 9],
    ['D', 10.5],
  ] as const)('code %s goes down to %f V', (code, volts) => {
    expect(check({ ...stepDown, code }, 'lowest-supply')?.requiredV).toBe(volts)
  })
  test('refuses a 12 V code for a 24 V car', () => {
    expect(() => supply({ ...stepDown, system: '24-volt' })).toThrow(
      expect.objectContaining({ code: 'out-of-range' }),
    )
  })
  test('40 V cover 16 V, a suppressed load dump and a jump start, but not a load dump of 101 V', () => {
    const request = { ...stepDown, converter: { ...stepDown.converter!, maxInputV: 40 } }
    expect(check(request, 'highest-supply')?.result).toBe('passes')
    expect(check(request, 'jump-start')?.result).toBe('passes')
    expect(check(request, 'suppressed-load-dump')?.result).toBe('passes')
    expect(check(request, 'load-dump')).toMatchObject({ result: 'fails', requiredV: 101, ratedV: 40 })
  })
  test('a rating exactly at the limit holds: 6 V for a converter that needs 6 V', () => {
    expect(check(stepDown, 'lowest-supply')).toMatchObject({ result: 'passes', requiredV: 6, ratedV: 6 })
  })
  test('a peak rating applies to load dumps only, the continuous one to the rest', () => {
    const converter = { ...stepDown.converter!, maxInputV: 20, peakInputV: 105 }
    expect(check({ ...stepDown, converter }, 'load-dump')?.result).toBe('passes')
    expect(check({ ...stepDown, converter }, 'suppressed-load-dump')?.ratedV).toBe(105)
    expect(check({ ...stepDown, converter }, 'jump-start')?.result).toBe('fails')
  })
  test('a clamp below the generator’s own suppression decides what the converter sees', () => {
    const converter = { ...stepDown.converter!, maxInputV: 33, clampV: 30 }
    expect(check({ ...stepDown, converter }, 'suppressed-load-dump')).toMatchObject({
      requiredV: 30,
      result: 'passes',
    })
  })
  test('a missing rating gives not-known and is never assumed to hold', () => {
    expect(check(stepDown, 'highest-supply')?.result).toBe('not-known')
    expect(check(stepDown, 'load-dump')?.result).toBe('not-known')
    expect(check(stepDown, 'reversed-battery')?.result).toBe('not-known')
  })
  test('a converter that needs 6 V rides through level I and restarts at the dip of II', () => {
    expect(check(stepDown, 'starting-dip', 'I')?.result).toBe('passes')
    expect(check(stepDown, 'starting-dip', 'II')?.result).toBe('fails')
    expect(check(stepDown, 'starting-cranking', 'II')?.result).toBe('passes')
  })
  test('a suppressor with enough energy holds, one with less fails', () => {
    const energyJ = loadDumpClamp({ peakV: 101, baseV: 14, sourceOhm: 0.5, durationS: 0.4 }, 36).energyJ
    const with_ = (clampEnergyJ: number) =>
      check(
        { ...stepDown, converter: { ...stepDown.converter!, maxInputV: 40, clampV: 36, clampEnergyJ } },
        'load-dump',
      )?.result
    expect(with_(energyJ * 1.01)).toBe('passes')
    expect(with_(energyJ * 0.99)).toBe('fails')
  })
})

describe('supply()', () => {
  test('a suppressor below the jump start of 24 V would burn out', () => {
    const codes = (clampV: number) =>
      supply({ ...stepDown, converter: { ...stepDown.converter!, clampV } }).notes.map(({ code }) => code)
    expect(codes(24)).toContain('clamp-too-low')
    expect(codes(24.1)).not.toContain('clamp-too-low')
  })
  test('the fuse is at most the lower end of the current capacity of the wire', () => {
    const most = (wireRatingA: SupplyRequest['wireRatingA'] & object) =>
      supply({ ...stepDown, wireRatingA }).maxFuseA
    expect(most(exact(10))).toBe(10)
    expect(most(uncertain(10, 'wire: current it stands', 1))).toBe(7.5)
  })
  test('refuses a converter-fed load without a converter', () => {
    expect(() => supply({ system: '12-volt', loads: [display] })).toThrow(
      expect.objectContaining({ code: 'needs-another-field' }),
    )
  })
  test('refuses an efficiency of a linear regulator: it follows from the voltages', () => {
    const converter = { kind: 'linear', outputV: exact(5), efficiencyPercent: 85 } as const
    expect(() => supply({ ...stepDown, converter })).toThrow(
      expect.objectContaining({
        code: 'fields-exclude-each-other',
        context: expect.objectContaining({ pointer: '/converter/efficiencyPercent' }),
      }),
    )
  })
  test('refuses a supply below what the converter needs', () => {
    expect(() => supply({ ...stepDown, supplyV: exact(5.9) })).toThrow(
      expect.objectContaining({ code: 'out-of-range' }),
    )
  })
  test('6 V cars have no standard, and the answer says so', () => {
    const result = supply({ ...stepDown, system: '6-volt', supplyV: exact(6.5) })
    expect(result.notes.map(({ code }) => code)).toContain('six-volt-not-standardized')
    expect(result.checks.map(({ kind }) => kind)).not.toContain('load-dump')
  })
})
