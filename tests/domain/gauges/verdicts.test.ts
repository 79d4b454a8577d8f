import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import fc from 'fast-check'
import { cumulativeStdNormalProbability } from 'simple-statistics'
import { describe, expect, test } from 'vitest'
import { readingOf } from '../../../src/domain/drive-paths/path.js'
import { speedLimitsAt, testSpeeds, turningSpeeds } from '../../../src/domain/gauges/limits.js'
import { distanceVerdict } from '../../../src/domain/gauges/rule-verdicts.js'
import { RULES, type Rule, type RuleId } from '../../../src/domain/gauges/rules.js'
import { speedVerdict, tableRule, worstSpeedVerdict } from '../../../src/domain/gauges/verdicts.js'
import { correlated } from '../../../src/domain/measure/correlation.js'
import { exact, toleranced, uncertain } from '../../../src/domain/measure/figure.js'
import { product } from '../../../src/domain/measure/propagation.js'
import { SOURCES } from '../../../src/domain/measure/sources.js'

const vectors = JSON.parse(readFileSync(join(import.meta.dirname, '../../vectors/drive-paths.json'), 'utf8'))
const kmh = (value: number) => value / 3.6

/** A dial by its slope and its offset in km/h, with the standard uncertainty of its slope. */
const dial = (slope: number, offsetKmh = 0, u = 0) => ({
  indicatedPerTrue: uncertain(slope, 'slope', u),
  offsetMPerS: exact(kmh(offsetKmh)),
})

/** What a dial shows at a true speed, with a standard uncertainty of its own. */
const shown = (trueMPerS: number, indicatedMPerS: number, u = 0) =>
  readingOf(dial(indicatedMPerS / trueMPerS, 0, u / trueMPerS))(trueMPerS)

const mph = (value: number) => value * 0.44704
const entry = (row: Record<string, number>, name: string) =>
  row[`${name}Kmh`] !== undefined
    ? kmh(row[`${name}Kmh`]!)
    : row[`${name}Mph`] !== undefined
      ? mph(row[`${name}Mph`]!)
      : undefined

describe('speedLimitsAt(limits, true, indicated, dialMax), each rule by its text', () => {
  for (const { source, rule, limits } of vectors.rules) {
    for (const row of limits) {
      test(`${source}: ${JSON.stringify(row)}`, () => {
        const trueMPerS = entry(row, 'true')!
        const found = speedLimitsAt(RULES[rule as RuleId], trueMPerS, trueMPerS, {
          dialMaxMPerS: entry(row, 'dialMax'),
        })!
        for (const side of ['lower', 'upper'] as const) {
          const wanted = entry(row, side)
          if (wanted === undefined) expect(found[`${side}MPerS`]).toBeUndefined()
          else expect(found[`${side}MPerS`]).toBeCloseTo(wanted, 9)
        }
      })
    }
  }

  test('ADR 18/03: indicated 100 km/h leaves the true speed between (100 - 4)/1.1 and 100 km/h (Circular 18/03-3-1)', () => {
    const rule = tableRule('au-adr-18-03')
    const judged = (trueKmh: number) => speedVerdict(rule, shown(kmh(trueKmh), kmh(100)))!.result
    expect(judged(87.2727 - 1e-3)).toBe('does-not-conform')
    expect(judged(87.2728)).toBe('conforms')
    expect(judged(100)).toBe('conforms')
    expect(judged(100.001)).toBe('does-not-conform')
  })

  test('the full-scale rule needs the last mark, and does not apply below 20 km/h', () => {
    const rule = RULES['de-before-1991']
    expect(() => speedLimitsAt(rule, kmh(60), kmh(60))).toThrow(
      expect.objectContaining({ code: 'rule-needs-dial-max' }),
    )
    expect(speedLimitsAt(rule, kmh(19), kmh(19), { dialMaxMPerS: kmh(160) })).toBeUndefined()
    expect(speedLimitsAt(rule, kmh(20), kmh(20), { dialMaxMPerS: kmh(160) })).toEqual({ lowerMPerS: kmh(20) })
  })

  test('rules that apply above a speed do not apply at it', () => {
    const rule = RULES['au-nsw-40a']
    expect(speedLimitsAt(rule, kmh(50), kmh(50))).toBeUndefined()
    expect(speedLimitsAt(rule, kmh(50.1), kmh(50))).toBeDefined()
  })
})

describe('testSpeeds(rule, topSpeed): 75/443/EEC, Annex II, 4.4', () => {
  test.each([
    [200, [40, 80, 120]],
    [150, [40, 80, 120]],
    [149, [40, 80, 119.2]],
    [100, [40, 80]],
    [60, [40, 48]],
    [30, [24]],
  ])('top speed %d km/h: %j', (top, expected) => {
    const found = testSpeeds(RULES['eec-75-443'], kmh(top)).map((speed) => Number((speed * 3.6).toFixed(6)))
    expect(found).toEqual(expected)
  })
})

describe('speedVerdict(rule, reading)', () => {
  test('agrees with the normal table (simple-statistics) for a band', () => {
    // UN R39 at 80: 80..92; indicated 91, u 1: P = Phi(1) - Phi(-11)
    const { probability } = speedVerdict(tableRule('un-r39'), shown(kmh(80), kmh(91), kmh(1)))!
    expect(probability).toBeCloseTo(cumulativeStdNormalProbability(1), 4)
  })

  test('without uncertainty it is a bare comparison', () => {
    fc.assert(
      fc.property(
        // The test speeds of UN R39 and between: 40 to 120 km/h.
        fc.double({ min: 11.2, max: 33.3, noNaN: true }),
        fc.double({ min: 0.8, max: 1.4, noNaN: true }),
        (v, ratio) => {
          const error = v * ratio - v
          const upper = 0.1 * v + kmh(4)
          // On a limit, within what arithmetic rounds: tried on its own.
          fc.pre(Math.min(Math.abs(error), Math.abs(error - upper)) > 1e-6)
          const inside = error >= 0 && error <= upper
          expect(speedVerdict(tableRule('un-r39'), shown(v, v * ratio))!.result).toBe(
            inside ? 'conforms' : 'does-not-conform',
          )
        },
      ),
    )
  })

  test('a reading on a limit with uncertainty is not proven', () => {
    expect(speedVerdict(tableRule('un-r39'), shown(kmh(80), kmh(80), kmh(1)))!.result).toBe('not-proven')
  })
})

test('a dial that is exact in whole numbers conforms, however the division rounds', () => {
  // turns x ratio / 10 is a whole constant at which the dial reads true: 720 x 4.1 = 2952.
  const failed: string[] = []
  for (let turns = 500; turns <= 900; turns += 10) {
    for (let tenths = 30; tenths <= 50; tenths++) {
      const slope = ((turns / 1609.344) * (tenths / 10)) / ((turns * tenths) / 10 / 1609.344)
      for (const v of [10, 40, 74.6, 120].map(kmh)) {
        const verdict = speedVerdict(tableRule('un-r39'), shown(v, slope * v))!
        if (verdict.probability !== 1) failed.push(`${turns} x ${tenths / 10}`)
      }
    }
  }
  expect(failed).toEqual([])
})

describe('worstSpeedVerdict(rule, line)', () => {
  test('is never better than the verdict at any of the speeds', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.9, max: 1.2, noNaN: true }),
        fc.double({ min: 0, max: 0.03, noNaN: true }),
        (slope, relative) => {
          const worst = worstSpeedVerdict(tableRule('un-r39'), dial(slope, 0, relative))!
          for (const v of [40, 60, 80, 120].map(kmh)) {
            const at = speedVerdict(tableRule('un-r39'), shown(v, slope * v, relative * v))!
            expect(worst.probability).toBeLessThanOrEqual(at.probability + 1e-9)
          }
        },
      ),
    )
  })

  test('is never better than the verdict at any speed of the range, tried one by one', () => {
    const worse: unknown[] = []
    fc.assert(
      fc.property(
        fc.constantFrom<RuleId>('un-r39', 'recording-in-use', 'de-before-1991', 'au-adr-18-03', 'au-nsw-40a'),
        fc.double({ min: 0.93, max: 1.14, noNaN: true }),
        fc.double({ min: -5, max: 5, noNaN: true }),
        fc.double({ min: 0, max: 0.04, noNaN: true }),
        fc.double({ min: 0, max: 3, noNaN: true }),
        fc.double({ min: -1, max: 1, noNaN: true }),
        fc.boolean(),
        (id, slope, offset, uSlope, uOffsetKmh, together, isBySize) => {
          const indicatedPerTrue = isBySize
            ? product(
                toleranced(slope, 'tire', 0.025 * slope, 0.015 * slope),
                uncertain(1, 'slope', uSlope / 4),
              )
            : uncertain(slope, 'slope', uSlope)
          const own = uncertain(kmh(offset), 'offset', kmh(uOffsetKmh))
          const offsetMPerS = isBySize ? own : correlated(own, indicatedPerTrue, together)
          const line = { indicatedPerTrue, offsetMPerS }
          const ends = { dialMaxMPerS: kmh(160) }
          const { probability } = worstSpeedVerdict(tableRule(id), line, ends)!
          const reading = readingOf(line)
          for (let at = 10; at <= 160; at += 0.5) {
            const row = speedVerdict(tableRule(id), reading(kmh(at)), ends)
            if (row !== undefined && row.probability < probability - 1e-3)
              worse.push([
                id,
                slope,
                offset,
                uSlope,
                uOffsetKmh,
                together,
                isBySize,
                at,
                row.probability,
                probability,
              ])
          }
        },
      ),
    )
    expect(worse.slice(0, 3)).toEqual([])
  })

  test('indicated test speeds are converted to true ones', () => {
    // Indicated 120 at slope 1.25 is a true 96 km/h; there 96 * 1.1 + 4 = 109.6 is the limit.
    const worst = worstSpeedVerdict(tableRule('au-adr-18-03'), dial(1.25))!
    expect(worst.atMPerS * 3.6).toBeCloseTo(96, 9)
    expect(worst.limits.upperMPerS! * 3.6).toBeCloseTo(109.6, 9)
  })
})

describe('worstSpeedVerdict(rule, line), speeds that the request does not list', () => {
  test('where a rule begins: StVZO 57 forbids under-reading from 20 km/h, first row given at 20 mph', () => {
    // 20 x 500/470 - 1.6 = 19.68 km/h; at 20 mph = 32.19 km/h the dial shows 32.64.
    const worst = worstSpeedVerdict(tableRule('de-before-1991'), dial(500 / 470, -1.6), {
      dialMaxMPerS: kmh(160),
    })!
    expect(worst).toMatchObject({ result: 'does-not-conform', atMPerS: kmh(20) })
  })

  test('where a limit starts: 7 % of full scale from the mark of 50 km/h, indicated at a true speed of 40 km/h', () => {
    // 7 % of 100 km/h is 7; from a third of the scale, the mark of 33.3 km/h. Shown there: 33.3 at a true 25.3 km/h, 8 over.
    const worst = worstSpeedVerdict(tableRule('de-before-1991'), dial(1, 8), { dialMaxMPerS: kmh(100) })!
    expect(worst.probability).toBe(0)
    expect(worst.limits.upperMPerS).toBeCloseTo(worst.atMPerS + kmh(7), 9)
    expect(
      turningSpeeds(RULES['de-before-1991'], readingOf(dial(1, 8)), { dialMaxMPerS: kmh(100) }).map(
        (v) => v * 3.6,
      ),
    ).toEqual([expect.closeTo(20, 9), expect.closeTo(100 / 3, 9), expect.closeTo(100 / 3 - 8, 9)])
  })

  test('the top speed: a recording dial is 6.22 km/h over at 129 km/h, and 5.79 at 120', () => {
    // (500/477 - 1) x 129 = 6.22
    const worst = worstSpeedVerdict(tableRule('recording-in-use'), dial(500 / 477), {
      topSpeedMPerS: kmh(129),
    })!
    expect(worst).toMatchObject({ result: 'does-not-conform', atMPerS: kmh(129) })
  })

  test('just above the speed above which a rule applies, and the ends of the range of a custom rule', () => {
    // 12 % low breaks "not more than 10 % below above 50 km/h" at once.
    const nsw = worstSpeedVerdict(tableRule('au-nsw-40a'), dial(1, -5.5))!
    expect(nsw.result).toBe('does-not-conform')
    expect(nsw.atMPerS * 3.6).toBeCloseTo(50, 4)
    const rule: Rule = {
      ...RULES['recording-in-use'],
      speed: { ...RULES['recording-in-use'].speed, fromMPerS: kmh(30), toMPerS: kmh(90) },
    }
    const at = (slope: number, offset: number) =>
      worstSpeedVerdict({ id: 'custom', rule }, dial(slope, offset))!
    expect(at(1.08, 0)).toMatchObject({ result: 'does-not-conform', atMPerS: kmh(90) })
    expect(at(0.9, 9.1)).toMatchObject({ result: 'does-not-conform', atMPerS: kmh(30) })
  })

  test('the upper bound of an approval rule applies from its lowest to its highest test speed, the lower bound everywhere', () => {
    // True + 5.5 km/h: 10 % and 4 km/h allow 5 at 10 km/h, but the rule says so from 40 km/h up only, where it allows 8.
    for (const id of ['un-r39', 'un-r39-production', 'eec-75-443', 'cn-gb-15082'] as const) {
      for (const top of [140, 150]) {
        const ends = { topSpeedMPerS: kmh(top) }
        const worst = worstSpeedVerdict(tableRule(id), dial(1, 5.5), ends)!
        expect([id, top, worst.result]).toEqual([id, top, 'conforms'])
      }
      // At 10 km/h only the lower bound is the rule's to judge, and at a top speed of 100 so above 80.
      const row = (at: number, showsKmh: number) =>
        speedVerdict(tableRule(id), shown(kmh(at), kmh(showsKmh)), { topSpeedMPerS: kmh(100) })
      expect(row(10, 30)).toMatchObject({ result: 'conforms', limits: { lowerMPerS: kmh(10) } })
      expect(row(10, 30)!.limits.upperMPerS).toBeUndefined()
      expect(row(90, 130)!.limits.upperMPerS).toBeUndefined()
      expect(row(60, 130)!.result).toBe('does-not-conform')
      for (const at of [10, 60, 90]) expect(row(at, at - 0.1)!.result).toBe('does-not-conform')
    }
  })

  test('the upper bound of ADR 18/03 applies from an indicated 40 to an indicated 120 km/h', () => {
    const upper = (showsKmh: number) =>
      speedVerdict(tableRule('au-adr-18-03'), shown(kmh(30), kmh(showsKmh)))!.limits.upperMPerS
    expect(upper(39.9)).toBeUndefined()
    expect(upper(40)).toBeCloseTo(kmh(37), 9)
    expect(upper(120)).toBeCloseTo(kmh(37), 9)
    expect(upper(120.1)).toBeUndefined()
  })

  test('none above the top speed', () => {
    expect(worstSpeedVerdict(tableRule('au-nsw-40a'), dial(0.5), { topSpeedMPerS: kmh(45) })).toBeUndefined()
  })

  test('among speeds that surely conform, the worst is the one whose reading is nearest to a limit', () => {
    // UN R39 at 12 % over: 48 - 44.8 = 3.2, 92 - 89.6 = 2.4, 136 - 134.4 = 1.6 km/h below the limit.
    expect(worstSpeedVerdict(tableRule('un-r39'), dial(1.12))!.atMPerS).toBeCloseTo(kmh(120), 9)
    // At 2 % + 1 km/h over the lower limit is the nearer one: 1.8 of 40, 2.6 of 80, 3.4 of 120 km/h.
    expect(worstSpeedVerdict(tableRule('un-r39'), dial(1.02, 1))!.atMPerS).toBeCloseTo(kmh(120), 9)
  })

  test('indicated test speeds of a dial that rests on its stop at low speed', () => {
    // Indicated = true - 30: 40, 80, 120 indicated are a true 70, 110, 150 km/h. All under-read by 30.
    const worst = worstSpeedVerdict(tableRule('au-adr-18-03'), dial(1, -30))!
    expect(worst.atMPerS).toBeCloseTo(kmh(70), 9)
  })
})

describe('the rule table', () => {
  test('names a source of the registry for every rule', () => {
    for (const rule of Object.values(RULES) as Rule[]) expect(SOURCES[rule.source], rule.title).toBeDefined()
  })

  test('odometer: 4 % either way (StVZO 57(3)), with uncertainty', () => {
    expect(distanceVerdict(tableRule('de-odometer'), exact(1.04))!.result).toBe('conforms')
    expect(distanceVerdict(tableRule('de-odometer'), exact(0.959))!.result).toBe('does-not-conform')
    expect(distanceVerdict(tableRule('de-odometer'), uncertain(1.04, 'path', 0.01))!.result).toBe(
      'not-proven',
    )
    expect(distanceVerdict(tableRule('un-r39'), exact(1.5))).toBeUndefined()
  })
})
