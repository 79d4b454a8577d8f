import { describe, expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { ringJoint } from '../../../src/domain/pick-ups/ring-joint.js'
import { noise } from '../../support/noise.js'

/** 20 teeth at a pitch of 10 mm, bore 40 mm. */
const diameters = {
  boreM: exact(0.04),
  shaftM: exact(0.04),
  outsideDiameterM: exact(0.2 / Math.PI),
  pulsesPerTurn: 20,
}

// Exact arithmetic. Two joints opened by 0.4 mm: circumference 200.8 mm, mean pitch 10.04 mm, joint gap 10.4 mm.
test('a joint that stands open widens its tooth gap against the mean pitch', () => {
  const found = ringJoint(diameters, { count: 2, removedM: exact(0.001), gapM: exact(0.0014) }, [])
  expect(found.pitchErrorPercent.value).toBeCloseTo((100 * 0.4) / 10.04, 9)
})

// With a gap at either limit the error is 2 % by the same arithmetic: d = 0.2 mm/(1 -+ 0.02 · 2/20).
test('the gaps to hold give the allowed error', () => {
  const removedM = exact(0.001)
  const { minGapM, maxGapM } = ringJoint(diameters, { count: 2, removedM }, [])
  expect(minGapM.value).toBeCloseTo(0.001 - 0.0002 / 1.002, 12)
  expect(maxGapM.value).toBeCloseTo(0.001 + 0.0002 / 0.998, 12)
  for (const [gapM, percent] of [
    [minGapM, -2],
    [maxGapM, 2],
  ] as const)
    expect(ringJoint(diameters, { count: 2, removedM, gapM }, []).pitchErrorPercent.value).toBeCloseTo(
      percent,
      9,
    )
})

describe('where the gap is left out', () => {
  // The bore, less what the cuts took, spans the shaft: pi · 40.2 - 2 · (1 - g) = pi · 40 at g = 1 - 0.1 · pi.
  test('the ring grips', () => {
    const taken: { field: string }[] = []
    const larger = { ...diameters, boreM: exact(0.0402) }
    const given = { count: 2, removedM: exact(0.001) }
    const found = ringJoint(larger, given, taken as never)
    expect(found.gapM.value).toBeCloseTo((1 - 0.1 * Math.PI) / 1000, 12)
    expect(found.clearanceM.value).toBe(0)
    expect(taken.map(({ field }) => field)).toEqual(['/joint/allowedPitchErrorPercent', '/joint/gap'])
  })
  // pi · 41 - 2 · 1 = 126.805 mm closed, pi · 40 = 125.664 mm: it stays loose by 1 - 2/pi mm on the diameter.
  test('a ring that cannot grip is closed', () => {
    const larger = { ...diameters, boreM: exact(0.041) }
    const given = { count: 2, removedM: exact(0.001) }
    const found = ringJoint(larger, given, [])
    expect(found.gapM.value).toBe(0)
    expect(found.clearanceM.value).toBeCloseTo((1 - 2 / Math.PI) / 1000, 12)
  })
})

test('refuses a joint without a tooth gap, and one that takes the pitch away', () => {
  const given = { count: 2, removedM: exact(0.001) }
  expect(() => ringJoint({ ...diameters, pulsesPerTurn: 1 }, given, [])).toThrow(
    expect.objectContaining({
      code: 'out-of-range',
      context: expect.objectContaining({ pointer: '/pulsesPerTurn' }),
    }),
  )
  expect(() => ringJoint(diameters, { ...given, gapM: exact(0.05) }, [])).toThrow(
    expect.objectContaining({
      code: 'out-of-range',
      context: expect.objectContaining({ pointer: '/joint/gap' }),
    }),
  )
  expect(() => ringJoint({ ...diameters, shaftM: exact(0.06) }, given, [])).toThrow(
    expect.objectContaining({
      code: 'out-of-range',
      context: expect.objectContaining({ pointer: '/joint' }),
    }),
  )
})

test('draws of gap, width removed and diameter lie in the interval of the pitch error with 93 to 99 %', () => {
  const [gap, removed, outside] = [0.0018, 0.001, 0.2 / Math.PI]
  const given = {
    count: 1,
    removedM: uncertain(removed, 'removed', 1e-4),
    gapM: uncertain(gap, 'gap', 2e-4),
  }
  const { pitchErrorPercent } = ringJoint(
    { ...diameters, outsideDiameterM: uncertain(outside, 'outside', 2e-4) },
    given,
    [],
  )
  const normal = noise(5)
  let inside = 0
  for (let draw = 0; draw < 20_000; draw++) {
    const circumference = Math.PI * (outside + 2e-4 * normal())
    const excess = gap + 2e-4 * normal() - removed - 1e-4 * normal()
    const percent = (100 * excess) / ((circumference + excess) / 20)
    if (Math.abs(percent - pitchErrorPercent.value) <= plusMinus(pitchErrorPercent)) inside++
  }
  expect(inside / 20_000).toBeGreaterThan(0.93)
  expect(inside / 20_000).toBeLessThan(0.99)
})
