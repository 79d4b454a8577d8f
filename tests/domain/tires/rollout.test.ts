import { describe, expect, test } from 'vitest'
import { uncertain } from '../../../src/domain/measure/figure.js'
import { rollout } from '../../../src/domain/tires/rollout.js'

const run = (distanceM: number, uDistanceM = 0) => ({
  wheelTurns: 1,
  distanceM: uncertain(distanceM, 'distance', uDistanceM),
})
const codes = (...runs: ReadonlyArray<ReturnType<typeof run>>) =>
  rollout({ runs }).notes.map(({ code }) => code)

describe('rollout() of runs that agree exactly', () => {
  test('carries a caution that an uncertainty of zero is not real', () => {
    // It gave 1850 mm without any uncertainty, and no word of that.
    expect(codes(run(1.85), run(1.85))).toContain('no-scatter')
    expect(codes(run(1.85), run(1.85), run(1.85))).toContain('no-scatter')
  })

  test('carries none if they scatter, or if their distance has an uncertainty', () => {
    expect(codes(run(1.85), run(1.851))).not.toContain('no-scatter')
    expect(codes(run(1.85, 0.002), run(1.85, 0.002))).not.toContain('no-scatter')
  })
})
