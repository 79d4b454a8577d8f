import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { budget, contributionOf } from '../../../src/domain/measure/budget.js'
import { exact, type Figure, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus, spreadOf, standardUncertainty } from '../../../src/domain/measure/uncertainty.js'
import { MILE_M } from '../../../src/domain/measure/units.js'
import { ROLLING_FACTOR, type Tire, tireGeometry } from '../../../src/domain/tires/geometry.js'
import vectors from '../../vectors/tire-sizes.json' with { type: 'json' }

const INCH_M = 0.0254
const ofSize = (size: string, wearM?: Figure) =>
  tireGeometry(wearM === undefined ? { size } : { size, wearM })
const ofDiameter = (overallDiameterM: Figure, construction?: 'radial' | 'diagonal') =>
  tireGeometry(construction === undefined ? { overallDiameterM } : { overallDiameterM, construction })
const code = (name: string, pointer?: string) =>
  expect.objectContaining({
    code: name,
    ...(pointer === undefined ? {} : { context: expect.objectContaining({ pointer }) }),
  })

describe('diameter and section height', () => {
  for (const { source, inputs, expected, tolerance } of vectors) {
    test(`${inputs.size}: ${expected.overallDiameterMm} mm across (${source})`, () => {
      const { overallDiameterM, sectionHeightM } = ofSize(inputs.size)
      expect(Math.abs(overallDiameterM!.value * 1000 - expected.overallDiameterMm)).toBeLessThan(tolerance)
      expect(Math.abs(sectionHeightM!.value * 1000 - expected.sectionHeightMm)).toBeLessThan(tolerance)
    })
  }

  // UN R30 6.1.5: d + 2H x 0.97 .. d + 2H x 1.04 (radial), 1.08 (diagonal, bias-belted). H of 205/70 is 143.5 mm.
  for (const [size, above] of [
    ['205/70R14', 1.04],
    ['205/70-14', 1.08],
    ['205/70B14', 1.08],
  ] as const) {
    test(`${size} new is between 97 % and ${above * 100} % of its section height`, () => {
      const { overallDiameterMinM, overallDiameterMaxM, overallDiameterM } = ofSize(size)
      expect(overallDiameterMinM! * 1000).toBeCloseTo(355.6 + 2 * 143.5 * 0.97, 9)
      expect(overallDiameterMaxM! * 1000).toBeCloseTo(355.6 + 2 * 143.5 * above, 9)
      // Uniform over the tolerance, about a value that is not its middle: GUM F.2.4.5.
      const [below, over] = [287 * 0.03, 287 * (above - 1)]
      const u = Math.sqrt((below + over) ** 2 / 12 + ((over - below) / 2) ** 2)
      expect(standardUncertainty(overallDiameterM!) * 1000).toBeCloseTo(u, 9)
      // What k = 2 covers of a normal distribution, 95.45 %, taken from below + over, evenly about the stated value.
      expect(plusMinus(overallDiameterM!) * 1000).toBeCloseTo(0.9544997361 * (below + over) - below, 6)
    })
  }
})

describe('a row of the table with an uncertainty', () => {
  const across = (plusMinusM: number) =>
    tireGeometry({ size: 'G78-15' }, () => ({
      designation: 'G78-15',
      overallDiameterM: uncertain(0.717, 'tire: recorded diameter', plusMinusM / 2),
      source: 'stored-tire-size',
    }))

  test('carries it to the diameter and the circumference', () => {
    const { overallDiameterM, overallDiameterMinM, rollingCircumferenceM } = across(0.003)
    const sure = across(0)
    // Standard uncertainties in squares (GUM, 5.1.2): 3 mm / 2 on the diameter, F times that on the circumference.
    expect(standardUncertainty(overallDiameterM!)).toBeCloseTo(
      Math.hypot(standardUncertainty(sure.overallDiameterM!), 0.0015),
      12,
    )
    expect(standardUncertainty(rollingCircumferenceM)).toBeCloseTo(
      Math.hypot(standardUncertainty(sure.rollingCircumferenceM), ROLLING_FACTOR.diagonal * 0.0015),
      12,
    )
    expect(overallDiameterMinM).toBeCloseTo(sure.overallDiameterMinM! - 0.003, 12)
  })
})

describe('turns and circumference', () => {
  test('the factor is uniform from 2.5 % below to 1.5 % above 3.05 (ETRTO)', () => {
    // 195/70R14: 355.6 + 2 x 0.7 x 195 = 628.6 mm across. 95.45 % of the 4 % of the tolerance, evenly about 3.05: 3.818 - 1.5 = 2.318 %.
    // In 2026-11 it was taken as normal, ± 2.517 %, which no tire of the size lies outside of.
    const { rollingCircumferenceM, turnsPerM } = ofSize('195/70R14')
    expect(rollingCircumferenceM.value).toBeCloseTo(3.05 * 0.6286, 12)
    const percent = 100 * (4 * 0.009544997361 - 0.015)
    expect((100 * plusMinus(rollingCircumferenceM)) / rollingCircumferenceM.value).toBeCloseTo(percent, 6)
    // Turns at the ends: 1/0.975 and 1/1.015 of those stated, to the last digit and not along a straight line.
    const { rectangles } = spreadOf(turnsPerM)
    expect(rectangles[0]!.atLow / turnsPerM.value).toBeCloseTo(1 / 0.975 - 1, 12)
    expect(rectangles[0]!.atHigh / turnsPerM.value).toBeCloseTo(1 / 1.015 - 1, 12)
  })

  // 63360 in a mile / (pi x 25.0 in); a slip of 3 % shortens the circle to 0.97 of that.
  test('a diameter of 25.0 in: 806.7246 turns per mile on pi x D, 831.6748 on 0.97 of it', () => {
    const { freeCircumferenceM, rollingCircumferenceM, turnsPerM } = ofDiameter(exact(25 * INCH_M), 'radial')
    const free = MILE_M / freeCircumferenceM!.value
    expect(free).toBeCloseTo(806.7246, 4)
    expect(free / 0.97).toBeCloseTo(831.6748, 4)
    // 63360 / (3.05 x 25) with the rolling factor of ETRTO (from memory), between the two.
    expect(turnsPerM.value * MILE_M).toBeCloseTo(63360 / (3.05 * 25), 9)
    expect(turnsPerM.value * rollingCircumferenceM.value).toBeCloseTo(1, 14)
  })

  // Common practice, no source: 63360 / (pi x 25.6) x 16 = 12 605 pulses a mile, about 5 in each.
  test('pi x D with 25.6 in and 16 pulses per turn gives 12 605 pulses per mile, 3 % fewer than on the road', () => {
    const { freeCircumferenceM, turnsPerM } = ofDiameter(exact(25.6 * INCH_M), 'radial')
    const label = (16 * MILE_M) / freeCircumferenceM!.value
    expect(Math.round(label)).toBe(12_605)
    expect(63360 / label).toBeCloseTo(5.03, 2)
    const road = 16 * turnsPerM.value * MILE_M
    expect((road / label - 1) * 100).toBeCloseTo((Math.PI / 3.05 - 1) * 100, 9)
    expect((road / label - 1) * 100).toBeCloseTo(3.0, 1)
  })

  test('the factors are those of ETRTO, and the free circle is the upper limit', () => {
    expect(ROLLING_FACTOR).toEqual({ radial: 3.05, diagonal: 2.99, 'bias-belted': 2.99 })
    for (const size of ['205/70R14', '5.60-15', '185/70B13', '31x10.50R15LT']) {
      const { freeCircumferenceM, rollingCircumferenceM } = ofSize(size)
      expect(rollingCircumferenceM.value).toBeLessThan(freeCircumferenceM!.value)
    }
  })

  // ETRTO: -2.5 % .. +1.5 % about F x D.
  test('the uncertainty of a size covers the tolerance of the rolling factor', () => {
    const { rollingCircumferenceM } = ofSize('205/70R14')
    const u = Math.sqrt(0.04 ** 2 / 12 + 0.005 ** 2)
    expect(standardUncertainty(rollingCircumferenceM) / rollingCircumferenceM.value).toBeCloseTo(u, 12)
  })

  test('the same tire by size, by its circumference and by its turns is the same', () => {
    const bySize = ofSize('205/70R14').rollingCircumferenceM.value
    const byTurns = tireGeometry({ turnsPerM: exact(1 / bySize) })
    const byCircumference = tireGeometry({
      rollingCircumferenceM: exact(bySize),
    })
    expect(byTurns.rollingCircumferenceM.value).toBeCloseTo(bySize, 14)
    expect(byCircumference.turnsPerM.value).toBeCloseTo(1 / bySize, 14)
    expect(byTurns.overallDiameterM).toBeUndefined()
    expect(byCircumference.basis).toBe('measured')
  })

  test('a measured circumference keeps its relative uncertainty as turns', () => {
    const { turnsPerM } = tireGeometry({
      rollingCircumferenceM: uncertain(1.985, 'tape', 0.002),
    })
    expect(standardUncertainty(turnsPerM) / turnsPerM.value).toBeCloseTo(0.002 / 1.985, 12)
  })

  test('a diameter without construction is assumed radial, with a wider uncertainty and a note', () => {
    const known = ofDiameter(exact(0.65), 'radial')
    const unknown = ofDiameter(exact(0.65))
    expect(unknown.rollingCircumferenceM.value).toBe(known.rollingCircumferenceM.value)
    expect(plusMinus(unknown.rollingCircumferenceM)).toBeGreaterThan(plusMinus(known.rollingCircumferenceM))
    expect(unknown.notes.map((note) => note.code)).toEqual(['tire-construction-assumed'])
    expect(known.notes).toEqual([])
  })
})

// Common practice, no source: cars of the sixties on these sizes have radial tires in nearly all cases.
describe('a width in millimeters without a letter', () => {
  const UNSTATED = 'tire: construction not stated'
  const mm = (length: Figure) => length.value * 1000

  // Found 2026-11: 155-13 was diagonal, D = 624.7 mm and C = 1867.9 ± 121.5 mm, where the row of 155R13 (UN R30 Annex 5, from memory) has
  // D = 578 mm: C = 3.05 x 578 = 1762.9 mm.
  test.each([
    ['155-13', 578],
    ['175-13', 608],
    ['165-15', 646],
    ['165 15', 646],
  ])(
    '%s is taken as the radial of the table, %d mm across, and its uncertainty covers the diagonal',
    (size, acrossMm) => {
      const { overallDiameterM, rollingCircumferenceM, notes, basis, ...rest } = ofSize(size)
      const [widthMm, rim] = size.split(/[- ]/).map(Number) as [number, number]
      expect(basis).toBe('table')
      expect(mm(overallDiameterM!)).toBeCloseTo(acrossMm, 9)
      expect(mm(rollingCircumferenceM)).toBeCloseTo(3.05 * acrossMm, 9)
      // H = 0.95 S, F = 2.99 for the diagonal.
      const diagonalMm = rim * 25.4 + 2 * 0.95 * widthMm
      expect(mm(overallDiameterM!) + 1000 * plusMinus(overallDiameterM!)).toBeGreaterThan(diagonalMm)
      expect(rest.overallDiameterMaxM! * 1000).toBeGreaterThan(diagonalMm)
      expect(mm(rollingCircumferenceM) + 1000 * plusMinus(rollingCircumferenceM)).toBeGreaterThan(
        2.99 * diagonalMm,
      )
      // One of the two and nothing beyond: uniform from one to the other, kept at its end (JCGM 100:2008, F.2.4.5), is the difference / √3.
      expect(1000 * contributionOf(rollingCircumferenceM, UNSTATED)).toBeCloseTo(
        (2.99 * diagonalMm - 3.05 * acrossMm) / Math.sqrt(3),
        9,
      )
      expect(notes).toEqual([
        expect.objectContaining({
          code: 'tire-construction-assumed',
          level: 'caution',
          text: expect.stringContaining(`A diagonal tire would have ${Math.round(2.99 * diagonalMm)} mm`),
        }),
      ])
      expect(rest.size).toMatchObject({ construction: 'radial', designation: `${widthMm}R${rim}` })
      expect(rest.sources).toContain('unmarked-metric-width')
    },
  )

  test('follows its construction, if given', () => {
    const marked = (construction: 'radial' | 'diagonal') => tireGeometry({ size: '155-13', construction })
    expect(marked('radial')).toEqual(ofSize('155R13'))
    // 13 x 25.4 + 2 x 0.95 x 155 = 624.7 mm
    expect(mm(marked('diagonal').overallDiameterM!)).toBeCloseTo(624.7, 9)
    expect(marked('diagonal')).toEqual(ofSize('155D13'))
    expect(marked('diagonal').notes.map((note) => note.code)).toEqual(['tire-diameter-estimated'])
  })

  test('on a rim in millimeters is estimated as radial: 400 + 2 x 0.82 x 165 mm', () => {
    const { overallDiameterM, notes } = ofSize('165-400')
    expect(mm(overallDiameterM!)).toBeCloseTo(670.6, 9)
    expect(notes.map((note) => note.code)).toEqual(['tire-diameter-estimated', 'tire-construction-assumed'])
  })

  test('is the tire of the row stored for the marking as written', () => {
    const recorded = tireGeometry({ size: '155-13' }, (designation) =>
      designation === '155-13'
        ? { designation, overallDiameterM: exact(0.602), source: 'stored-tire-size' }
        : undefined,
    )
    expect(mm(recorded.rollingCircumferenceM)).toBeCloseTo(2.99 * 602, 9)
    expect(recorded.notes).toEqual([])
  })

  test('has an uncertainty independent of that of the wear', () => {
    const worn = ofSize('155-13', exact(0.004))
    expect(mm(worn.overallDiameterM!)).toBeCloseTo(570, 9)
    expect(contributionOf(worn.rollingCircumferenceM, UNSTATED)).toBeCloseTo(
      contributionOf(ofSize('155-13').rollingCircumferenceM, UNSTATED),
      12,
    )
  })
})

describe('wear', () => {
  test('of zero with an uncertainty contributes its uncertainty', () => {
    const unsure = ofSize('205/70R14', uncertain(0, 'tire: wear', 0.0015))
    expect(budget(unsure.rollingCircumferenceM).map(({ input }) => input)).toContain('tire: wear')
    const surely = plusMinus(ofSize('205/70R14', exact(0)).rollingCircumferenceM)
    expect(plusMinus(unsure.rollingCircumferenceM)).toBeGreaterThan(surely)
  })

  const fresh = ofSize('205/70R14')

  test('reduces the diameter by twice its value', () => {
    const worn = ofSize('205/70R14', exact(0.006))
    expect(fresh.overallDiameterM!.value - worn.overallDiameterM!.value).toBeCloseTo(0.012, 12)
    expect(fresh.overallDiameterMaxM! - worn.overallDiameterMaxM!).toBeCloseTo(0.012, 12)
  })

  // Re = Rg - (Rg - Rh)/3: two thirds of the wear at the least, all of it at the most; uniform between.
  test('reduces the circumference by two thirds of 2 pi w to all of it, which the uncertainty covers', () => {
    const w = 0.006
    const worn = ofSize('205/70R14', exact(w))
    const loss = fresh.rollingCircumferenceM.value - worn.rollingCircumferenceM.value
    expect(loss).toBeCloseTo((2 * Math.PI * w * 5) / 6, 12)
    const share = contributionOf(worn.rollingCircumferenceM, 'tire: share of wear in the rolling radius')
    expect(Math.abs(share)).toBeCloseTo((2 * Math.PI * w) / 6 / Math.sqrt(3), 12)
    expect(plusMinus(worn.rollingCircumferenceM)).toBeGreaterThan(plusMinus(fresh.rollingCircumferenceM))
    expect(worn.sources).toContain('two-thirds-rule')
  })

  test('of zero changes nothing', () => {
    expect(ofSize('205/70R14', exact(0))).toEqual(fresh)
  })

  test('of 20 mm is the maximum', () => {
    expect(ofSize('205/70R14', exact(0.02)).overallDiameterM!.value).toBeCloseTo(0.6026, 12)
    expect(() => ofSize('205/70R14', exact(0.020001))).toThrow(code('wear-beyond-tread', '/wear'))
  })
})

describe('a size without a formula', () => {
  test('of letters requires a measurement', () => {
    expect(() => ofSize('FR70-14')).toThrow(code('tire-size-not-tabulated', '/size'))
    expect(() => ofSize('G78-15')).toThrow(/rollingCircumference/)
  })

  test('is looked up in the given table', () => {
    const { overallDiameterM, basis, sources } = tireGeometry({ size: 'G78-15' }, (designation) =>
      designation === 'G78-15'
        ? { designation, overallDiameterM: exact(0.7), source: 'stored-tire-size' }
        : undefined,
    )
    expect(overallDiameterM!.value).toBeCloseTo(0.7, 12)
    expect(basis).toBe('table')
    expect(sources).toContain('stored-tire-size')
  })

  // Common practice, no source: H = 0.82 S; 18 in and two heights of 1.04 x 5.375 in for the combined size.
  test('but with a width is estimated, with a caution', () => {
    const radial = ofSize('175R17')
    expect(radial.overallDiameterM!.value * 1000).toBeCloseTo(17 * 25.4 + 2 * 0.82 * 175, 9)
    const combined = ofSize('5.25/5.50-18')
    expect(combined.overallDiameterM!.value / INCH_M).toBeCloseTo(18 + 2 * 1.04 * 5.375, 9)
    for (const { notes, sources, basis } of [radial, combined]) {
      expect(basis).toBe('formula')
      expect(notes).toEqual([expect.objectContaining({ code: 'tire-diameter-estimated', level: 'caution' })])
      expect(sources).toContain('estimated-section-height')
    }
    expect(plusMinus(radial.rollingCircumferenceM)).toBeGreaterThan(
      plusMinus(ofSize('165R15').rollingCircumferenceM),
    )
  })
})

describe('limits, and one value past each', () => {
  const byCircumference = (value: number): Tire => ({
    rollingCircumferenceM: exact(value),
  })
  const byTurns = (value: number): Tire => ({ turnsPerM: exact(value) })

  for (const [tire, pointer] of [
    [{ overallDiameterM: exact(0.0999) }, '/overallDiameter'],
    [{ overallDiameterM: exact(3.001) }, '/overallDiameter'],
    [byCircumference(0.2999), '/rollingCircumference'],
    [byCircumference(10.01), '/rollingCircumference'],
    [byTurns(1 / 0.2999), '/turns'],
    [byTurns(1 / 10.01), '/turns'],
  ] as ReadonlyArray<readonly [Tire, string]>) {
    test(`${JSON.stringify(tire)} is out of range at ${pointer}`, () => {
      expect(() => tireGeometry(tire)).toThrow(code('out-of-range', pointer))
    })
  }

  // 100 turns a kilometer are 10 m each. Found 2026-11-29: it was told of a rolling circumference, to whoever had given turns.
  test('turns out of range are reported as turns', () => {
    expect(() => tireGeometry(byTurns(0.09))).toThrow('turns [1/km]: expected 100 to 3333.33')
  })

  test('are in range themselves', () => {
    for (const value of [0.1, 3]) expect(ofDiameter(exact(value)).overallDiameterM!.value).toBe(value)
    for (const value of [0.3, 10]) {
      expect(tireGeometry(byCircumference(value)).rollingCircumferenceM.value).toBe(value)
    }
  })
})

describe('properties', () => {
  const metric = fc.record({
    width: fc.integer({ min: 125, max: 355 }),
    aspect: fc.integer({ min: 30, max: 82 }),
    rim: fc.integer({ min: 10, max: 22 }),
    build: fc.constantFrom('R', '-', 'B'),
  })
  const named = ({
    width,
    aspect,
    rim,
    build,
  }: {
    width: number
    aspect: number
    rim: number
    build: string
  }) => `${width}/${aspect}${build}${rim}`

  test('min <= overall diameter <= max, and the rolling circumference lies between 2.9 and pi diameters', () => {
    fc.assert(
      fc.property(metric, (size) => {
        const { overallDiameterM, overallDiameterMinM, overallDiameterMaxM, rollingCircumferenceM } = ofSize(
          named(size),
        )
        const diameterM = overallDiameterM!.value
        expect(overallDiameterMinM!).toBeLessThanOrEqual(diameterM)
        expect(overallDiameterMaxM!).toBeGreaterThanOrEqual(diameterM)
        expect(rollingCircumferenceM.value / diameterM).toBeGreaterThan(2.9)
        expect(rollingCircumferenceM.value / diameterM).toBeLessThan(Math.PI)
      }),
    )
  })

  test('scaling a measured diameter scales the circumference and its uncertainty', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.3, max: 1, noNaN: true }),
        fc.double({ min: 0, max: 0.01, noNaN: true }),
        fc.double({ min: 1, max: 2.9, noNaN: true }),
        (diameterM, u, k) => {
          const one = ofDiameter(uncertain(diameterM, 'tape', u), 'radial').rollingCircumferenceM
          const other = ofDiameter(uncertain(k * diameterM, 'tape', k * u), 'radial').rollingCircumferenceM
          expect(other.value).toBeCloseTo(k * one.value, 10)
          expect(plusMinus(other)).toBeCloseTo(k * plusMinus(one), 10)
        },
      ),
    )
  })

  test('the uncertainty never shrinks when the uncertainty of the wear or of a reading grows', () => {
    const grown = fc.tuple(
      fc.double({ min: 0, max: 0.005, noNaN: true }),
      fc.double({ min: 1, max: 5, noNaN: true }),
    )
    fc.assert(
      fc.property(metric, grown, (size, [u, factor]) => {
        const worn = (uncertainty: number) =>
          plusMinus(ofSize(named(size), uncertain(0.005, 'tire: wear', uncertainty)).rollingCircumferenceM)
        expect(worn(u * factor)).toBeGreaterThanOrEqual(worn(u))
        const measured = (uncertainty: number) =>
          plusMinus(ofDiameter(uncertain(0.65, 'tape', uncertainty)).rollingCircumferenceM)
        expect(measured(u * factor)).toBeGreaterThanOrEqual(measured(u))
      }),
    )
  })
})
