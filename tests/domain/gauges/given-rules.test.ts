import { describe, expect, test } from 'vitest'
import { type CustomRule, givenRule, givenRules } from '../../../src/domain/gauges/given-rules.js'

const KMH = 1 / 3.6

/** Lower bound of 5 % of true, upper bound of 2 km/h: they meet at 40 km/h, where 5 % is 2 km/h. */
const upTo = (kmh: number): { custom: CustomRule } => ({
  custom: { lower: { percent: 5, kmh: 0 }, upper: { percent: 0, kmh: 2 }, toMPerS: kmh * KMH },
})

const refusal = (code: string, pointer: string) =>
  expect.objectContaining({ code, context: expect.objectContaining({ pointer }) })

describe('givenRule(given, pointer)', () => {
  test('takes bounds that meet at the end of their range, and no longer', () => {
    expect(givenRule(upTo(40), '/rule').id).toBe('custom')
    expect(() => givenRule(upTo(40.1), '/rule')).toThrow(refusal('rule-bounds-crossed', '/rule/custom/lower'))
  })

  test('says that bounds without an end cross at high speed', () => {
    const { lower, upper } = upTo(40).custom
    expect(() => givenRule({ custom: { lower, upper } }, '/rule')).toThrow('at high speed')
  })

  test('rejects a range that ends before it begins', () => {
    const custom = { ...upTo(30).custom, fromMPerS: 31 * KMH }
    expect(() => givenRule({ custom }, '/rule')).toThrow(refusal('rule-bounds-crossed', '/rule/custom/from'))
  })

  test('rejects a rule of the table without limits, at its place in the list', () => {
    expect(() => givenRules(['un-r39', 'us-49-usc-32703'])).toThrow(
      refusal('rule-without-limits', '/rules/1'),
    )
  })
})
