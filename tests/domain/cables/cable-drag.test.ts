import { describe, expect, test } from 'vitest'
import { cableDrag } from '../../../src/domain/cables/cable-drag.js'
import { exact, statedExact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const notesOf = (torqueNm: ReturnType<typeof exact>) =>
  cableDrag({ parts: ['head'], tests: [{ parts: ['head'], torqueNm }] }).notes.map(({ code }) => code)

describe('cableDrag(request)', () => {
  test('a torque that states no uncertainty counts with 10 % of the reading (common practice, no source)', () => {
    const { parts } = cableDrag({ parts: ['head'], tests: [{ parts: ['head'], torqueNm: exact(0.01) }] })
    expect(plusMinus(parts[0]!.dragNm!)).toBeCloseTo(0.001, 15)
    expect(notesOf(exact(0.01))).toContain('torque-uncertainty-assumed')
  })
  test('a torque that states none at all counts with 0.1 %, and no uncertainty is assumed', () => {
    const { parts } = cableDrag({
      parts: ['head'],
      tests: [{ parts: ['head'], torqueNm: statedExact(0.01) }],
    })
    expect(plusMinus(parts[0]!.dragNm!)).toBeCloseTo(0.00001, 15)
    expect(notesOf(statedExact(0.01))).toContain('torque-uncertainty-raised')
    expect(notesOf(statedExact(0.01))).not.toContain('torque-uncertainty-assumed')
  })
  test('a stated uncertainty is that of the only part', () => {
    const { parts } = cableDrag({
      parts: [{ name: 'head', kind: 'head' }],
      tests: [{ parts: ['head'], torqueNm: uncertain(0.01, 'torque', 0.0002) }],
    })
    expect(plusMinus(parts[0]!.dragNm!)).toBeCloseTo(0.0004, 15)
    expect(parts[0]).toMatchObject({ name: 'head', kind: 'head', determined: true })
  })
  test('a part named alone is of kind other', () => {
    const { parts } = cableDrag({
      parts: ['head', 'cable'],
      tests: [{ parts: ['head'], torqueNm: exact(0.01) }],
    })
    expect(parts.map(({ kind, determined }) => [kind, determined])).toEqual([
      ['other', true],
      ['other', false],
    ])
  })
  test('shares are given in percent: a false alarm in 5 % of the cases', () => {
    const { assembly } = cableDrag({
      parts: ['head', 'cable'],
      tests: [
        { parts: ['head'], torqueNm: exact(0.01) },
        { parts: ['cable'], torqueNm: exact(0.02) },
        { parts: ['head', 'cable'], torqueNm: exact(0.05) },
      ],
    })
    expect(assembly!.falseAlarmPercent).toBeCloseTo(5, 12)
    // 0.05 - 0.01 - 0.02.
    expect(assembly!.dragNm.value).toBeCloseTo(0.02, 12)
  })
})
