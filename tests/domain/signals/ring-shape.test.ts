import { describe, expect, test } from 'vitest'
import { judgeRing, ringShape } from '../../../src/domain/signals/ring-shape.js'
import { noise } from '../../support/noise.js'

/** Errors, centered. */
const ring = (teeth: number, at: (gap: number) => number) => {
  const errors = Float64Array.from({ length: teeth }, (_, gap) => at(gap))
  const mean = errors.reduce((total, error) => total + error, 0) / teeth
  return errors.map((error) => error - mean)
}
const wave = (teeth: number, amplitude: number, widest: number) => (gap: number) =>
  amplitude * Math.cos((2 * Math.PI * (gap - widest)) / teeth)

describe('ringShape(errors, uncertainty)', () => {
  test('separates joint and wave exactly, by least squares', () => {
    for (const teeth of [6, 7, 8, 15, 16, 60]) {
      const opposite = 2 + Math.floor(teeth / 2)
      const errors = ring(
        teeth,
        (gap) => wave(teeth, 0.01, 1)(gap) + (gap === 2 || gap === opposite ? 0.2 : 0),
      )
      const { joint, wave: found } = ringShape(errors, 1e-6)
      expect(joint!.gaps, `${teeth} teeth`).toEqual([2, opposite])
      expect(joint!.widths[0]).toBeCloseTo(0.2, 12)
      expect(joint!.widths[1]).toBeCloseTo(0.2, 12)
      // A gap is a chord of the wave of its edges.
      expect(found.eccentricity).toBeCloseTo((0.01 * Math.PI) / teeth / Math.sin(Math.PI / teeth), 12)
      expect(found.widestGap).toBe(1)
      expect(found.plain).toBe(true)
    }
  })

  test('gives two widths if the gaps differ', () => {
    const { joint, wave: found } = ringShape(
      ring(16, (gap) => (gap === 5 ? -0.1 : gap === 13 ? 0.3 : 0)),
      1e-6,
    )
    expect(joint!.gaps).toEqual([5, 13])
    expect(joint!.widths[0]).toBeCloseTo(-0.1, 12)
    expect(joint!.widths[1]).toBeCloseTo(0.3, 12)
    expect(found.plain).toBe(false)
  })

  test('finds no joint in a ring that is only out of true, nor in one of three gaps', () => {
    expect(ringShape(ring(12, wave(12, 0.05, 3)), 0.001)).not.toHaveProperty('joint')
    expect(ringShape(Float64Array.of(0.2, -0.1, -0.1), 0.001)).not.toHaveProperty('joint')
  })

  test('calls random errors a joint in at most one ring of twenty, from six gaps on', () => {
    for (const teeth of [6, 7, 8, 9, 12, 16, 33]) {
      let joints = 0
      for (let start = 1; start <= 400; start++) {
        const normal = noise(1000 * teeth + start)
        if (
          ringShape(
            ring(teeth, () => 0.05 * normal()),
            1e-4,
          ).joint !== undefined
        )
          joints++
      }
      // Two trials, of equal and of different widths: 5 % each of 400 is 40, give or take five times six.
      expect(joints, `${teeth} gaps`).toBeLessThanOrEqual(70)
    }
  })

  test('calls the noise of an even or an eccentric ring no joint', () => {
    let joints = 0
    for (let start = 1; start <= 500; start++) {
      const normal = noise(start)
      if (
        ringShape(
          ring(8, (gap) => wave(8, 0.05, 0)(gap) + 0.001 * normal()),
          0.001,
        ).joint !== undefined
      )
        joints++
    }
    // 0.3 % of 500 is 1.5.
    expect(joints).toBeLessThanOrEqual(6)
  })
})

test('judgeRing: three gaps at 3.5 standard uncertainties are beyond a chance of 0.3 %, twenty are not (normal table: 2·Φ(−3.5) = 4.65e-4)', () => {
  const verdict = (gaps: number) =>
    judgeRing(
      {
        gapErrors: Float64Array.from({ length: gaps }, (_, gap) => (gap === 0 ? 0.035 : 0)),
        passes: new Int32Array(gaps).fill(9),
        uncertainty: new Float64Array(gaps).fill(0.01),
      },
      0,
    )
  expect(verdict(3).chance).toBeCloseTo(3 * 4.653e-4, 6)
  expect(verdict(3).significant).toBe(true)
  expect(verdict(20).significant).toBe(false)
})
