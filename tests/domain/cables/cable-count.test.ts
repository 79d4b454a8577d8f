import { describe, expect, test } from 'vitest'
import { checkCableCount } from '../../../src/domain/cables/cable-count.js'
import { exact, statedExact, uncertain } from '../../../src/domain/measure/figure.js'

const MILE_M = 1609.344
const noTable = () => undefined
const codes = (request: Parameters<typeof checkCableCount>[0]) =>
  checkCableCount(request, noTable).notes.map(({ code }) => code)

describe('checkCableCount(request, table)', () => {
  test('10 turns over 1/100 mile are 1000 a mile, by the odometer of a head of 1000 a mile one mile a mile', () => {
    const head = { input: 'turns', constantPerM: exact(1000 / MILE_M), unit: 'mph' } as const
    const result = checkCableCount({ cableTurns: 10, head }, noTable)
    expect(result.turnsPerM.value * MILE_M).toBeCloseTo(1000, 9)
    expect(result.odometerPerTrue!.value).toBeCloseTo(1, 12)
    expect(result.sources).toContain('shop-course')
  })
  test('the distance counts as exact unless its uncertainty is stated, be it zero', () => {
    expect(codes({ cableTurns: 10 })).toContain('distance-taken-as-exact')
    expect(codes({ cableTurns: 10, distanceM: exact(16) })).toContain('distance-taken-as-exact')
    expect(codes({ cableTurns: 10, distanceM: statedExact(16) })).not.toContain('distance-taken-as-exact')
    expect(codes({ cableTurns: 10, distanceM: uncertain(16, 'distance rolled', 0.01) })).not.toContain(
      'distance-taken-as-exact',
    )
  })
  test('names the stage and the driven gear that explain a count', () => {
    const result = checkCableCount(
      {
        // One turn a meter at the wheel through 7/20 is 0.35; 100 m give 33.33 turns with 21 driven teeth.
        cableTurns: (100 * 7) / 21,
        distanceM: exact(100),
        resolution: 0.01,
        tire: { turnsPerM: exact(1) },
        stages: [{ kind: 'gear-pair', name: 'speedometer drive', teeth: { driving: 7, driven: 20 } }],
      },
      noTable,
    )
    expect(result.agreement).toBe('differs')
    expect(result.suspects).toHaveLength(1)
    expect(result.suspects![0]).toMatchObject({
      pointer: '/stages/0',
      name: 'speedometer drive',
      ratio: 0.35,
      drivenImplied: 21,
    })
    expect(result.notes.map(({ code }) => code)).toContain('count-and-path-differ')
  })
  test.each([
    ['stages without a tire', 'tire-needed', { stages: [{ kind: 'final-drive', ring: 37, pinion: 10 }] }],
    [
      'stages that give pulses',
      'path-order',
      { tire: { turnsPerM: exact(1) }, stages: [{ kind: 'pulse-ring', pulsesPerTurn: 40 }] },
    ],
    [
      'a head that takes pulses',
      'head-does-not-fit-path',
      { head: { input: 'pulses', constantPerM: exact(4), unit: 'kmh' } },
    ],
  ] as const)('refuses %s', (_, code, fields) => {
    expect(() => checkCableCount({ cableTurns: 10, ...fields }, noTable)).toThrow(
      expect.objectContaining({ code }),
    )
  })
})
