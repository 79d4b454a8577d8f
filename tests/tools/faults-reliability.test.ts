import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { simulate, TRUE_WORLD, WORSE_WORLD } from '../../tools/faults-reliability.js'

const docs = join(import.meta.dirname, '../../docs')

describe('stated probabilities of faults agree with the observed frequencies', () => {
  const { bins, isolated, rightWhenIsolated } = simulate(TRUE_WORLD, 120)

  test('in every tenth, within four standard deviations of chance', () => {
    for (const { predicted, observed, count } of bins) {
      expect(count).toBeGreaterThan(20)
      expect(Math.abs(observed - predicted)).toBeLessThan(
        4 * Math.sqrt((predicted * (1 - predicted)) / count),
      )
    }
  })

  test('a link that counts as found is the right one as often as stopAt requires', () => {
    expect(isolated).toBeGreaterThan(0.95)
    // 95 % or more is stated; three standard deviations of 120 cases.
    expect(rightWhenIsolated).toBeGreaterThan(0.95 - 3 * Math.sqrt((0.95 * 0.05) / 120))
  })

  test('and less often when tests are worse than stated, so the check can detect that', () => {
    const worse = simulate({ ...WORSE_WORLD, lessSensitive: 0.4 }, 40)
    expect(worse.rightWhenIsolated).toBeLessThan(rightWhenIsolated)
  })
})

test('docs/faults-reliability.md shows its diagram', () => {
  expect(readFileSync(join(docs, 'faults-reliability.md'), 'utf8')).toContain('(faults-reliability.svg)')
  expect(existsSync(join(docs, 'faults-reliability.svg'))).toBe(true)
})
