import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { budget } from '../../../src/domain/measure/budget.js'
import { correlated } from '../../../src/domain/measure/correlation.js'
import {
  exact,
  type Figure,
  renamed,
  toleranceUncertainty,
  uncertain,
} from '../../../src/domain/measure/figure.js'
import { product, propagate, quotient, scaled, sum } from '../../../src/domain/measure/propagation.js'
import { plusMinus, standardUncertainty } from '../../../src/domain/measure/uncertainty.js'
import h1 from '../../vectors/gum-h1.json' with { type: 'json' }
import h2 from '../../vectors/gum-h2.json' with { type: 'json' }

const code = (name: string) => expect.objectContaining({ code: name })

describe('GUM H.3, the calibration line of a thermometer', () => {
  // JCGM 100:2008, H.3: y1 = -0.1712, u 0.0029; y2 = 0.00218, u 0.00067; r = -0.930; at 30 degC, ten above the reference.
  const slope = uncertain(0.00218, 'y2', 0.00067)
  const correction = (correlation: number) =>
    sum(correlated(uncertain(-0.1712, 'y1', 0.0029), slope, correlation), scaled(slope, 10))

  test('b(30) = -0.1494 with u = 0.0041, correlation included', () => {
    expect(correction(-0.93).value).toBeCloseTo(-0.1494, 4)
    expect(Math.abs(standardUncertainty(correction(-0.93)) - 0.0041)).toBeLessThan(5e-5)
  })

  test('without the correlation it would be 0.0073', () => {
    expect(standardUncertainty(correction(0))).toBeCloseTo(Math.hypot(0.0029, 0.0067), 12)
  })

  test('correlated() rejects a correlation beyond 1', () => {
    expect(() => correlated(slope, uncertain(0, 'y1', 1), 1.01)).toThrow(code('out-of-range'))
  })
})

describe('GUM H.1, the end gauge', () => {
  const gauge = sum(
    ...h1.inputs.map(({ input, standardUncertaintyNm }) => uncertain(0, input, standardUncertaintyNm)),
  )

  test(`u = ${h1.expected.combinedNm} nm`, () => {
    expect(Math.abs(standardUncertainty(gauge) - h1.expected.combinedNm)).toBeLessThanOrEqual(h1.tolerance)
    expect(Math.round(standardUncertainty(gauge))).toBe(32)
  })

  test('the standard comes first in the budget, with 625 of 1002.6 nm2', () => {
    expect(budget(gauge)[0]!.input).toMatch(/^ls/)
    expect(budget(gauge)[0]!.sharePercent).toBeCloseTo(62.34, 1)
  })
})

describe('GUM H.2, resistance and reactance from correlated readings', () => {
  const { voltageV, currentA, phaseRad, correlation } = h2.inputs
  // Correlated readings written with three independent inputs: the rows of the Cholesky factor of the correlation matrix.
  const r = correlation
  const b = Math.sqrt(1 - r.voltageCurrent ** 2)
  const c = (r.currentPhase - r.voltagePhase * r.voltageCurrent) / b
  const d = Math.sqrt(1 - r.voltagePhase ** 2 - c ** 2)
  const inputs = ['z1', 'z2', 'z3'].map((name) => uncertain(0, name, 1))
  const reading = ({ value, u }: { value: number; u: number }, row: readonly number[]): Figure =>
    sum(exact(value), ...inputs.map((input, index) => scaled(input, u * (row[index] ?? 0))))
  const voltage = reading(voltageV, [1])
  const current = reading(currentA, [r.voltageCurrent, b])
  const phase = reading(phaseRad, [r.voltagePhase, c, d])
  const cosine = propagate(Math.cos(phase.value), [[phase, -Math.sin(phase.value)]])
  const sine = propagate(Math.sin(phase.value), [[phase, Math.cos(phase.value)]])
  const impedance = quotient(voltage, current)

  const results = {
    resistanceOhm: product(impedance, cosine),
    reactanceOhm: product(impedance, sine),
    impedanceOhm: impedance,
  }
  for (const [name, figure] of Object.entries(results)) {
    const expected = h2.expected[name as keyof typeof results]
    test(`${name} is ${expected.value}, u = ${expected.u}`, () => {
      expect(Math.abs(figure.value - expected.value)).toBeLessThanOrEqual(h2.tolerance.value)
      expect(Math.abs(standardUncertainty(figure) - expected.u)).toBeLessThanOrEqual(h2.tolerance.u)
    })
  }
})

const input = fc.record({
  value: fc.double({ min: 0.1, max: 1000, noNaN: true }),
  relative: fc.double({ min: 0, max: 0.1, noNaN: true }),
})

/** (a·b/c + a)·2: every operation, and one input in two places. */
const model = (a: Figure, b: Figure, c: Figure) => scaled(sum(quotient(product(a, b), c), a), 2)

describe('properties', () => {
  test('relative uncertainties of a chain of ratios add in quadrature (GUM 5.1.6)', () => {
    fc.assert(
      fc.property(input, input, input, (a, b, c) => {
        const make = ({ value, relative }: typeof a, name: string) => uncertain(value, name, value * relative)
        const y = quotient(product(make(a, 'a'), make(b, 'b')), make(c, 'c'))
        const expected = Math.hypot(a.relative, b.relative, c.relative)
        expect(standardUncertainty(y) / y.value).toBeCloseTo(expected, 12)
      }),
    )
  })

  test('the uncertainty never shrinks when the uncertainty of an input grows', () => {
    fc.assert(
      fc.property(
        input,
        input,
        input,
        fc.nat(2),
        fc.double({ min: 1, max: 10, noNaN: true }),
        (a, b, c, which, factor) => {
          const of = (grown: number) =>
            model(
              ...([a, b, c].map(({ value, relative }, index) =>
                uncertain(value, 'abc'[index]!, value * relative * (index === which ? grown : 1)),
              ) as [Figure, Figure, Figure]),
            )
          expect(plusMinus(of(factor))).toBeGreaterThanOrEqual(plusMinus(of(1)) * (1 - 1e-12))
        },
      ),
    )
  })

  test('slopes agree with differences of the model itself', () => {
    fc.assert(
      fc.property(input, input, input, (a, b, c) => {
        const u = 1e-6
        const at = (da: number) => model(exact(a.value + da), exact(b.value), exact(c.value)).value
        const y = model(uncertain(a.value, 'a', u), exact(b.value), exact(c.value))
        const slope = (at(u * a.value) - at(-u * a.value)) / (2 * u * a.value)
        expect(standardUncertainty(y) / u / Math.abs(slope)).toBeCloseTo(1, 5)
      }),
    )
  })

  test('x/x and x - x have no uncertainty, whatever that of x', () => {
    fc.assert(
      fc.property(input, ({ value, relative }) => {
        const x = uncertain(value, 'x', value * relative)
        expect(quotient(x, x).value).toBe(1)
        expect(plusMinus(quotient(x, x))).toBeLessThan(1e-14)
        expect(plusMinus(sum(x, scaled(x, -1)))).toBe(0)
      }),
    )
  })

  test('quantities measured independently do, with different names for their inputs', () => {
    const tire = uncertain(2, 'tire: rolling factor', 0.02)
    expect(plusMinus(quotient(tire, tire))).toBeLessThan(1e-15)
    const apart = quotient(
      renamed(tire, (name) => `fitted ${name}`),
      renamed(tire, (name) => `calibrated for ${name}`),
    )
    expect(standardUncertainty(apart)).toBeCloseTo(0.01 * Math.SQRT2, 12)
  })

  test('the lines of a budget add up to 100, largest first', () => {
    fc.assert(
      fc.property(input, input, input, (a, b, c) => {
        const y = model(
          uncertain(a.value, 'a', a.value * a.relative),
          uncertain(b.value, 'b', b.value * b.relative),
          uncertain(c.value, 'c', c.value * c.relative + 1e-6),
        )
        const shares = budget(y).map(({ sharePercent }) => sharePercent)
        expect(shares.reduce((total, share) => total + share, 0)).toBeCloseTo(100, 9)
        expect(shares).toEqual([...shares].sort((one, other) => other - one))
      }),
    )
  })
})

describe('limits', () => {
  test('a figure without uncertainty has no budget', () => {
    expect(budget(exact(1))).toEqual([])
    expect(budget(uncertain(1, 'a', 0))).toEqual([])
    expect(plusMinus(exact(1))).toBe(0)
  })

  for (const [name, run] of [
    ['exact(NaN)', () => exact(Number.NaN)],
    ['exact(Infinity)', () => exact(Number.POSITIVE_INFINITY)],
    ['uncertain(1, a, NaN)', () => uncertain(1, 'a', Number.NaN)],
    ['a quotient by zero', () => quotient(exact(1), exact(0))],
    ['zero by zero', () => quotient(exact(0), exact(0))],
    ['a product beyond the largest double', () => product(exact(1e200), exact(1e200))],
    ['an uncertainty beyond the largest double', () => scaled(uncertain(1, 'a', 1e200), 1e200)],
  ] as const) {
    test(`${name} is not finite`, () => expect(run).toThrow(code('not-finite')))
  }

  test('a negative uncertainty is out of range', () => {
    expect(() => uncertain(1, 'a', -1e-9)).toThrow(code('out-of-range'))
    expect(() => toleranceUncertainty(-1, 2)).toThrow(code('out-of-range'))
    expect(() => toleranceUncertainty(1, -2)).toThrow(code('out-of-range'))
  })

  // GUM 4.3.7: half-width h of a uniform distribution, u = h/sqrt 3.
  test('a symmetric tolerance is uniform', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 1e6, noNaN: true }), (h) => {
        expect(toleranceUncertainty(h, h)).toBeCloseTo(h / Math.sqrt(3), 6)
      }),
    )
  })

  // Moments of the uniform distribution on [-1, 2] about 0: the integral of x2/3 is (8 + 1)/9 = 1.
  test('an asymmetric tolerance gives the root mean square distance from the stated value', () => {
    expect(toleranceUncertainty(1, 2)).toBeCloseTo(1, 12)
  })
})
