import { describe, expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { tireReport, tireSizeReport } from '../../../src/domain/tires/report.js'
import { builtInSizes } from '../../../src/domain/tires/size-table.js'

describe('tireReport({ tire }, table)', () => {
  test('gives a measured diameter its uncertainty as range', () => {
    const overallDiameterM = uncertain(0.65, 'tire: overall diameter', 0.001)
    const { overallDiameterM: range } = tireReport(
      { tire: { overallDiameterM, construction: 'radial' } },
      builtInSizes,
    )
    // JCGM 100:2008, 6.3.3: 0.65 m ± 2 · 1 mm
    expect(range!.min).toBeCloseTo(0.648, 12)
    expect(range!.max).toBeCloseTo(0.652, 12)
  })

  test('leaves out the diameter that a rolling circumference does not give', () => {
    const report = tireReport({ tire: { rollingCircumferenceM: exact(1.985) } }, builtInSizes)
    expect(report).not.toHaveProperty('overallDiameterM')
    expect(report).not.toHaveProperty('freeOverRollingPercent')
    expect(report.budget).toEqual([])
  })

  test('takes the section width of the table where the size states none', () => {
    const row = { designation: 'G78-15', overallDiameterM: exact(0.717), sectionWidthM: 0.208 } as const
    const { size } = tireSizeReport({ size: 'G78-15' }, () => ({ ...row, source: 'stored-tire-size' }))
    expect(size!.sectionWidthM).toBe(0.208)
  })

  test('points into the tire of the request', () => {
    expect(() => tireReport({ tire: { overallDiameterM: exact(9) } }, builtInSizes)).toThrow(
      expect.objectContaining({
        code: 'out-of-range',
        context: expect.objectContaining({ pointer: '/tire/overallDiameter' }),
      }),
    )
  })
})
