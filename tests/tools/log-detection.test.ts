import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { detectionAt, jointDetectionAt } from '../../tools/log-detection.js'

const docs = join(import.meta.dirname, '../../docs')

test('at an edge jitter of half a percent, every missed and extra pulse is found, and nothing else', () => {
  const row = detectionAt(0.005, 20)
  expect(row).toMatchObject({ missed: 1, extra: 1, falsePerThousand: 0, alarms: 0 })
  expect(row.rings[2]).toBe(1)
  // 0.5 % · √2 over √20 turns, against 4 %
  expect(row.ringError).toBeCloseTo((0.005 * Math.SQRT2) / Math.sqrt(20) / 0.04, 2)
})

test('the share of extra pulses found falls with noise, before false ones appear', () => {
  const row = detectionAt(0.1, 10)
  expect(row.extra).toBeLessThan(0.9)
  expect(row.falsePerThousand).toBeLessThan(5)
})

test('rings cut in halves: only the joint is reported, and missed and extra pulses are found as on an even ring', () => {
  for (const joint of [0.02, 0.2, 0.45]) {
    expect(jointDetectionAt(joint, 2)).toEqual({
      joint,
      named: 1,
      wrong: 0,
      missed: 1,
      extra: 1,
      falsePerThousand: 0,
    })
  }
})

test('docs/log-detection.md includes its diagrams', () => {
  for (const file of ['log-detection.svg', 'log-detection-joint.svg']) {
    expect(readFileSync(join(docs, 'log-detection.md'), 'utf8')).toContain(`(${file})`)
    expect(existsSync(join(docs, file))).toBe(true)
  }
})
