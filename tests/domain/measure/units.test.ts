import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  DIMENSIONS,
  type DimensionName,
  differenceFromSi,
  differenceToSi,
  FOOT_M,
  fromSi,
  INCH_M,
  MILE_M,
  toSi,
  type UnitKey,
} from '../../../src/domain/measure/units.js'
import cases from '../../vectors/units.json' with { type: 'json' }

/** Of every size that a request can hold; numbers near the smallest double have fewer digits to keep. */
const numbers = fc.double({ min: -1e9, max: 1e9, noNaN: true }).filter((x) => x === 0 || Math.abs(x) > 1e-12)

type Any = UnitKey<DimensionName>

const everyUnit = Object.entries(DIMENSIONS).flatMap(([dimension, { units }]) =>
  Object.entries(units).map(([key, unit]) => ({
    dimension: dimension as DimensionName,
    key: key as Any,
    unit,
  })),
)

describe('published factors', () => {
  for (const { source, inputs, expected, tolerance } of cases) {
    test(`${inputs.value} ${inputs.key}: ${source}`, () => {
      const si = toSi(inputs.dimension as DimensionName, inputs.key as Any, inputs.value)
      expect(Math.abs(si - expected)).toBeLessThanOrEqual(tolerance)
    })
  }

  test('a mile is 5280 feet of 12 inches', () => {
    expect(FOOT_M).toBeCloseTo(12 * INCH_M, 15)
    expect(MILE_M).toBeCloseTo(5280 * FOOT_M, 12)
  })

  // 0.028349523125 kg x 9.80665 m/s2 x 0.0254 m, as a fraction of whole numbers.
  test('an ounce-force inch is 1129848290276167/160000000000000 mN.m', () => {
    expect(toSi('torque', 'ozIn', 1) * 1e3).toBeCloseTo(1129848290276167 / 160000000000000, 14)
  })

  // A mile is 1.609344 km, so 1000 per mile is 621.3711922 per kilometer.
  test('1000 turns per mile are 621.3712 turns per kilometer', () => {
    expect(fromSi('perDistance', 'perKm', toSi('perDistance', 'perMile', 1000))).toBeCloseTo(621.3711922, 6)
  })
})

describe('every unit', () => {
  for (const { dimension, key, unit } of everyUnit) {
    test(`${dimension} in ${key} survives the round trip`, () => {
      fc.assert(
        fc.property(numbers, (value) => {
          const zero = 'zero' in unit ? Number(unit.zero) / unit.perUnit : 0
          const back = fromSi(dimension, key, toSi(dimension, key, value))
          // Two roundings, of the value and of its zero point.
          expect(Math.abs(back - value)).toBeLessThanOrEqual(4 * Number.EPSILON * (Math.abs(value) + zero))
          const difference = differenceFromSi(dimension, key, differenceToSi(dimension, key, value))
          expect(Math.abs(difference - value)).toBeLessThanOrEqual(2 * Number.EPSILON * Math.abs(value))
        }),
      )
    })

    test(`${dimension} in ${key}: a difference of two values is the value of the difference`, () => {
      const one = toSi(dimension, key, 30) - toSi(dimension, key, 20)
      expect(one).toBeCloseTo(differenceToSi(dimension, key, 10), 9)
    })
  }

  test('has its own UCUM code, as UCUM defines it', () => {
    // The Unified Code for Units of Measure, case sensitive: atoms, prefixes and whole numbers used here, joined by . / and parentheses.
    const atom =
      /^(\{[a-z]+\}|\[(in|mi|ft|sin)_i\]|\[(oz|lb|lbf)_av\]|\[psi\]|\[degF\]|Cel|K|J|deg|min|MPa|[kcmnpu]?(m|s|g|N|V|A|F|Hz|W|Ohm)|h|\[g\]|g|cd|lx|'|1000)(-?[123])?$/
    for (const { unit } of everyUnit) {
      for (const part of unit.ucum.split(/[./()]/)) if (part !== '') expect(part).toMatch(atom)
    }
    const codes = everyUnit.map(({ dimension, unit }) => `${dimension} ${unit.ucum}`)
    expect(new Set(codes).size).toBe(codes.length)
  })

  test('a key that is not a unit of the quantity is a programming error', () => {
    expect(() => toSi('length', 'kg' as never, 1)).toThrow(RangeError)
  })

  test('the units of answers are units of the quantity', () => {
    for (const { units, answers } of Object.values(DIMENSIONS)) {
      for (const key of answers) expect(Object.keys(units)).toContain(key)
    }
  })
})
