import { describe, expect, test } from 'vitest'
import { type ErrorLimit, errorBand } from '../../../src/domain/gauges/error-band.js'
import { type NamedRule, tableRule } from '../../../src/domain/gauges/verdicts.js'
import { exact } from '../../../src/domain/measure/figure.js'

const kmh = (value: number) => value / 3.6
const mph = (value: number) => value * 0.44704
const line = (slope: number, offsetKmh = 0) => ({
  indicatedPerTrue: exact(slope),
  offsetMPerS: exact(kmh(offsetKmh)),
})
const inKmh = (limits: readonly ErrorLimit[]) =>
  limits.map(({ trueMPerS, errorMPerS }) => [trueMPerS * 3.6, errorMPerS * 3.6])

function expectPairs(found: number[][], expected: number[][]) {
  expect(found.length).toBe(expected.length)
  for (const [index, pair] of expected.entries()) {
    expect(found[index]![0]).toBeCloseTo(pair[0]!, 9)
    expect(found[index]![1]).toBeCloseTo(pair[1]!, 9)
  }
}

describe('UN R39 5.3: 0 <= V1 - V2 <= 0.1 V2 + 4 km/h', () => {
  test('is a straight line over the whole plot, and one from the lowest to the highest test speed', () => {
    const band = errorBand(tableRule('un-r39'), line(1), kmh(10), kmh(120))
    expect(band.kind).toBe('lines')
    expectPairs(inKmh(band.lower), [
      [10, 0],
      [40, 0],
      [120, 0],
    ])
    expectPairs(inKmh(band.upper), [
      [40, 8],
      [120, 16],
    ])
    // At a top speed of 100 km/h the highest test speed is 80.
    const slower = errorBand(tableRule('un-r39'), line(1), kmh(10), kmh(100), { topSpeedMPerS: kmh(100) })
    expectPairs(inKmh(slower.upper), [
      [40, 8],
      [80, 12],
    ])
  })
})

describe('StVZO 57, wording before 1991: 0 to 7 % of full scale from the 50 km/h mark, no under-reading from 20 km/h', () => {
  const rule = tableRule('de-before-1991')

  test('its upper limit starts where a dial that over-reads by a quarter indicates 50: at a true speed of 40 km/h', () => {
    const band = errorBand(rule, line(1.25), kmh(5), kmh(120), { dialMaxMPerS: kmh(200) })
    expectPairs(inKmh(band.upper).slice(0, 1), [[40, 14]])
    expectPairs(inKmh(band.upper).slice(-1), [[120, 14]])
    // 7 % of 200 km/h.
    for (const [, error] of inKmh(band.upper)) expect(error).toBeCloseTo(14, 9)
    expectPairs(inKmh(band.lower).slice(0, 1), [[20, 0]])
  })

  test('for a dial that under-reads it starts at the true speed', () => {
    // max(true, indicated) decides, and the true speed is the larger: 50 km/h.
    const band = errorBand(rule, line(0.8), kmh(5), kmh(120), { dialMaxMPerS: kmh(200) })
    expectPairs(inKmh(band.upper).slice(0, 1), [[50, 14]])
  })

  test('needs the last mark of the dial', () => {
    expect(() => errorBand(rule, line(1), kmh(5), kmh(120))).toThrow(
      expect.objectContaining({ code: 'rule-needs-dial-max' }),
    )
  })
})

describe('rules with one limit or a limited range', () => {
  test('New South Wales 40A: above 50 km/h not more than 10 % below, no upper limit', () => {
    const band = errorBand(tableRule('au-nsw-40a'), line(1), kmh(10), kmh(100))
    expect(band.upper).toEqual([])
    expectPairs(inKmh(band.lower), [
      [50, -5],
      [100, -10],
    ])
  })

  test('49 CFR 393.82: 45 to 55 mph, at 50 mph only', () => {
    const band = errorBand(tableRule('us-49-cfr-393-82'), line(1), mph(10), mph(80))
    expect(band.kind).toBe('points')
    expectPairs(inKmh(band.lower), [[50 * 1.609344, -5 * 1.609344]])
    expectPairs(inKmh(band.upper), [[50 * 1.609344, 5 * 1.609344]])
    expect(errorBand(tableRule('us-49-cfr-393-82'), line(1), mph(10), mph(40)).lower).toEqual([])
  })

  test('a rule on the odometer has no band', () => {
    expect(errorBand(tableRule('de-odometer'), line(1), 1, 30)).toEqual({
      kind: 'lines',
      lower: [],
      upper: [],
    })
  })

  test('a range that ends inside the plot', () => {
    const custom: NamedRule = {
      id: 'custom',
      rule: {
        ...tableRule('un-r39').rule,
        speed: {
          kind: 'band',
          lower: { percentOfTrue: 0, constantMPerS: 0 },
          upper: { percentOfTrue: 5, constantMPerS: kmh(2) },
          fromMPerS: kmh(40),
          toMPerS: kmh(80),
        },
      },
    }
    expectPairs(inKmh(errorBand(custom, line(1), kmh(10), kmh(120)).upper), [
      [40, 4],
      [80, 6],
    ])
    // Beyond the plot nothing is left of it.
    expect(errorBand(custom, line(1), kmh(90), kmh(120)).upper).toEqual([])
  })
})
