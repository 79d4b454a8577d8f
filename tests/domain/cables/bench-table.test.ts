import { describe, expect, test } from 'vitest'
import { benchTable } from '../../../src/domain/cables/bench-table.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const MPH = 0.44704
const head = { input: 'turns', constantPerM: exact(1000 / 1609.344), unit: 'mph' } as const
const codes = (request: Parameters<typeof benchTable>[0]) => benchTable(request).notes.map(({ code }) => code)

describe('benchTable(request)', () => {
  test('without marks and rates: every 10 mph up to 60, the highest mark of the bench practice', () => {
    const marks = benchTable({ head }).rows.map(({ speedMPerS }) => Math.round(speedMPerS.value / MPH))
    expect(marks).toEqual([10, 20, 30, 40, 50, 60])
  })
  test('1000 turns a mile is 60 mph at 1000 rpm, which may show 60 to 63 (TM 9-1829A)', () => {
    const [row] = benchTable({ head, rpmsPerS: [exact(1000 / 60)] }).rows
    expect(row!.speedMPerS.value / MPH).toBeCloseTo(60, 9)
    expect(row!.tolerances[0]!.lowerMPerS! / MPH).toBeCloseTo(60, 9)
    expect(row!.tolerances[0]!.upperMPerS! / MPH).toBeCloseTo(63, 9)
  })
  test('a mark read to 1 % is driven at a rate known to 1 %', () => {
    const [row] = benchTable({ head, speedsMPerS: [uncertain(60 * MPH, 'mark of the dial', 0.3 * MPH)] }).rows
    expect(plusMinus(row!.rpmPerS!) / row!.rpmPerS!.value).toBeCloseTo(0.01, 12)
  })
  test('a drill of 750 rpm reaches 45 mph, and a table that goes further says so', () => {
    const drill = { topSpeedPerS: exact(750 / 60) }
    expect(benchTable({ head, drill }).drillReachesMPerS!.value / MPH).toBeCloseTo(45, 9)
    expect(codes({ head, drill })).toContain('drill-too-slow')
    expect(codes({ head, drill, speedsMPerS: [exact(40 * MPH)] })).not.toContain('drill-too-slow')
  })
  test('a shaft that tightens the other way unwinds', () => {
    expect(codes({ head, headTurns: 'counterclockwise', outerLayer: 'left-hand' })).toContain('shaft-unwinds')
    expect(codes({ head, headTurns: 'clockwise', outerLayer: 'left-hand' })).not.toContain('shaft-unwinds')
    expect(codes({ head, outerLayer: 'left-hand' })).toContain('direction-not-given')
  })
  test.each(['rpms', 'drill', 'headTurns', 'outerLayer'])(
    'refuses %s of a head that takes pulses',
    (field) => {
      const pulses = { ...head, input: 'pulses' as const }
      const all = {
        rpms: { rpmsPerS: [exact(10)] },
        drill: { drill: { topSpeedPerS: exact(10) } },
        headTurns: { headTurns: 'clockwise' },
        outerLayer: { outerLayer: 'left-hand' },
      } as const
      expect(() => benchTable({ head: pulses, ...all[field as keyof typeof all] })).toThrow(
        expect.objectContaining({
          code: 'head-does-not-fit-path',
          context: expect.objectContaining({ pointer: `/${field}` }),
        }),
      )
      expect(benchTable({ head: pulses }).rows[0]!.frequencyHz).toBeDefined()
    },
  )
})
