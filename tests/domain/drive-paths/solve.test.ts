import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { type Find, solveStages } from '../../../src/domain/drive-paths/solve.js'

const USUAL = { minFraction: 0, maxFraction: 0.04 }

/** Order of merit, as documented, written anew: within the aim nearest to true; over; under. */
function merit(error: number, { minFraction, maxFraction } = USUAL): [number, number] {
  const eps = 1e-12
  if (error >= minFraction - eps && error <= maxFraction + eps) {
    return [0, Math.abs(error - Math.min(maxFraction, Math.max(minFraction, 0)))]
  }
  return [error >= -eps ? 1 : 2, error < minFraction ? minFraction - error : error - maxFraction]
}

describe('solveStages(exactProduct, finds, aim, most)', () => {
  test('finds the same as an exhaustive search', () => {
    const wheels = fc.uniqueArray(fc.integer({ min: 5, max: 40 }), { minLength: 1, maxLength: 6 })
    const find = fc.tuple(wheels, wheels).map(([driving, driven]): Find => ({ driving, driven }))
    fc.assert(
      fc.property(
        fc.array(find, { minLength: 1, maxLength: 3 }),
        fc.double({ min: 0.05, max: 20, noNaN: true }),
        (finds, exact) => {
          let products = [1]
          for (const one of finds) {
            if (one === 'exact' || !('driving' in one)) continue
            products = products.flatMap((so_far) =>
              one.driving.flatMap((a) => one.driven.map((b) => so_far * (a / b))),
            )
          }
          const best = products
            .map((product) => merit(product / exact - 1))
            .sort((a, b) => a[0] - b[0] || a[1] - b[1])[0]!
          const found = solveStages(exact, finds, USUAL, 5).solutions[0]!
          const own = merit(found.errorFraction)
          expect(own[0]).toBe(best[0])
          expect(Math.abs(own[1] - best[1])).toBeLessThan(1e-9)
          // The choices really give the error that is claimed.
          const product = found.choices.reduce((total, { ratio }) => total * ratio, 1)
          expect(product / exact - 1).toBeCloseTo(found.errorFraction, 12)
        },
      ),
      { numRuns: 300 },
    )
  })

  // Wrong until 2026-11: the offset of the head was left out of rank, error and aim.
  test('with an offset it finds the same as an exhaustive search at every speed', () => {
    const speeds = [20, 30, 50, 90, 130]
    fc.assert(
      fc.property(
        fc.uniqueArray(fc.integer({ min: 200, max: 600 }), { minLength: 1, maxLength: 40 }),
        fc.double({ min: -6, max: 6, noNaN: true }),
        fc.double({ min: -0.05, max: 0.05, noNaN: true }),
        fc.double({ min: 0, max: 0.3, noNaN: true }),
        (percents, a, minFraction, width) => {
          const aim = { minFraction, maxFraction: minFraction + width }
          const merits = percents.map((percent) => {
            const errors = speeds.map((v) => ((percent / 400) * v + a) / v - 1)
            const short = Math.max(0, aim.minFraction - Math.min(...errors))
            const over = Math.max(0, Math.max(...errors) - aim.maxFraction)
            const wanted = Math.min(aim.maxFraction, Math.max(aim.minFraction, 0))
            if (short + over < 1e-9) return [0, Math.max(...errors.map((e) => Math.abs(e - wanted)))] as const
            return [Math.min(...errors) >= -1e-9 ? 1 : 2, short + over] as const
          })
          const best = merits.sort((x, y) => x[0] - y[0] || x[1] - y[1])[0]!
          const shares = speeds.map((v) => a / v)
          const offset = { minFraction: Math.min(...shares), maxFraction: Math.max(...shares) }
          const ratios = percents.map((percent) => percent / 100)
          const { solutions } = solveStages(4, [{ ratios }], { ...aim, offset }, 3)
          const [found] = solutions
          const errors = speeds.map((v) => ((found!.choices[0]!.ratio / 4) * v + a) / v - 1)
          const farthest = errors.reduce((far, e) => (Math.abs(e) > Math.abs(far) ? e : far))
          expect(Math.abs(found!.errorFraction)).toBeCloseTo(Math.abs(farthest), 9)
          expect(found!.withinAim).toBe(best[0] === 0)
          const isNeverUnder = Math.min(...errors) >= -1e-9
          if (best[0] > 0) expect(isNeverUnder).toBe(best[0] === 1)
          const miss =
            Math.max(0, minFraction - Math.min(...errors)) +
            Math.max(0, Math.max(...errors) - aim.maxFraction)
          if (best[0] > 0) expect(miss).toBeCloseTo(best[1], 9)
        },
      ),
      { numRuns: 300 },
    )
  })

  test('an exact stage compensates for an offset, as far as a slope can', () => {
    // -0.9 km/h at 20 km/h is -4.5 %: the slope 1.045 reads true there and 4.5 - 0.75 = 3.75 % over at 120.
    const within = { ...USUAL, offset: { minFraction: -0.9 / 20, maxFraction: -0.9 / 120 } }
    expect(solveStages(1, ['exact'], within, 1).solutions[0]).toMatchObject({ withinAim: true })
    expect(solveStages(1, ['exact'], within, 1).solutions[0]!.errorFraction).toBeCloseTo(0.0375, 12)
    // +3 km/h: 2.5 % at 120 km/h, 15 % at 20: true at 120 is 12.5 % over at 20, and no slope does better without under-reading.
    const beyond = { ...USUAL, offset: { minFraction: 3 / 120, maxFraction: 3 / 20 } }
    expect(solveStages(1, ['exact'], beyond, 1).solutions[0]).toMatchObject({ withinAim: false })
    expect(solveStages(1, ['exact'], beyond, 1).solutions[0]!.errorFraction).toBeCloseTo(0.125, 12)
  })

  test('an exact stage takes the remaining ratio', () => {
    const { solutions } = solveStages(0.35, [{ ratios: [0.5, 1, 2] }, 'exact'], USUAL, 3)
    for (const { errorFraction, choices } of solutions) {
      expect(Math.abs(errorFraction)).toBeLessThan(1e-12)
      expect(choices[0]!.ratio * choices[1]!.ratio).toBeCloseTo(0.35, 12)
    }
  })

  test('a whole-number stage takes the best of all fractions within its bound', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.2, max: 5, noNaN: true }), (exact) => {
        const best = solveStages(exact, [{ maxTerm: 25 }], { minFraction: -1, maxFraction: 1 }, 1)
          .solutions[0]!
        let least = Number.POSITIVE_INFINITY
        for (let p = 1; p <= 25; p++)
          for (let q = 1; q <= 25; q++) least = Math.min(least, Math.abs(p / q / exact - 1))
        // Nearest by difference, the measure of the theory, is within the spacing of nearest by ratio.
        expect(Math.abs(best.errorFraction)).toBeLessThanOrEqual(least * (1 + 1e-9) + 1e-12)
      }),
      { numRuns: 300 },
    )
  })

  test('two whole-number stages take the best of all pairs of fractions within their bounds', () => {
    const fractions = (most: number) =>
      Array.from({ length: most * most }, (_, n) => (1 + Math.floor(n / most)) / (1 + (n % most)))
    const small = fractions(12)
    const products = [...new Set(small.flatMap((a) => small.map((b) => a * b)))]
    fc.assert(
      fc.property(fc.double({ min: 0.5, max: 2, noNaN: true }), (exact) => {
        const stage: Find = { maxTerm: 12 }
        const [best] = solveStages(exact, [stage, stage], USUAL, 1).solutions
        const errors = products.map((product) => product / exact - 1)
        const within = errors.filter((error) => error >= -1e-12 && error <= 0.04 + 1e-12)
        // Only near roots of what was wanted were tried: in two of five cases nothing was found where something is.
        expect(best!.withinAim).toBe(within.length > 0)
        if (within.length > 0) expect(best!.errorFraction).toBeCloseTo(Math.min(...within), 9)
      }),
      { numRuns: 100 },
    )
    // 5/4 x 9/11 = 45/44 = 1.0227 for 1.022.
    const stage: Find = { maxTerm: 12 }
    expect(solveStages(1.022, [stage, stage], USUAL, 1).solutions[0]!.errorFraction).toBeCloseTo(
      45 / 44 / 1.022 - 1,
      12,
    )
  })

  test('an exact stage takes the remainder of a whole-number stage, in either order', () => {
    const { solutions } = solveStages(0.7123, ['exact', { maxTerm: 9 }], USUAL, 1)
    expect(Math.abs(solutions[0]!.errorFraction)).toBeLessThan(1e-12)
  })

  test('ranks solutions within the aim first, then over-reading, then under-reading ones', () => {
    const { solutions } = solveStages(1, [{ ratios: [0.99, 1.1, 1.03] }], USUAL, 3)
    expect(solutions.map(({ choices }) => choices[0]!.ratio)).toEqual([1.03, 1.1, 0.99])
    expect(solutions.map(({ withinAim }) => withinAim)).toEqual([true, false, false])
  })

  test('counts the candidates, and rejects an endless search', () => {
    expect(solveStages(1, [{ ratios: [1, 2, 3] }], USUAL, 10).searched).toBe(3)
    const many = Array.from({ length: 200 }, (_, index) => index + 5)
    const wide: Find = { driving: many, driven: many }
    expect(() => solveStages(1, [wide, wide, wide], USUAL, 1)).toThrow(
      expect.objectContaining({ code: 'search-too-large' }),
    )
  })

  // Wrong until 2026-11: work grew sixfold with each stage and nothing counted it: 3.6 s for seven stages, 62 s for eight.
  test.each([2, 7, 8, 10, 20])('fills %i open whole-number stages with little work', (stages) => {
    const stage: Find = { maxTerm: 1_000_000 }
    const { solutions, searched } = solveStages(0.354386, Array(stages).fill(stage), USUAL, 10)
    // A fraction with terms up to M comes within 1/M² of any number (Dirichlet).
    expect(Math.abs(solutions[0]!.errorFraction)).toBeLessThan(1e-11)
    expect(searched).toBeLessThan(100_000)
  })

  test('small whole numbers in several stages come nearer than one stage with the same bound', () => {
    const stage: Find = { maxTerm: 9 }
    // 1/3 and 3/8 are the nearest of single fractions up to 9/9: 5.9 % under and 5.8 % over.
    for (const stages of [4, 8, 12]) {
      const { solutions } = solveStages(0.354386, Array(stages).fill(stage), USUAL, 1)
      expect(Math.abs(solutions[0]!.errorFraction)).toBeLessThan(0.005)
      const product = solutions[0]!.choices.reduce((total, { ratio }) => total * ratio, 1)
      expect(product / 0.354386 - 1).toBeCloseTo(solutions[0]!.errorFraction, 12)
    }
  })

  test('three long lists are searched completely: the best of 343 000 combinations', () => {
    const ratios = (from: number) => Array.from({ length: 70 }, (_, i) => from + ((i * 37) % 71) / 100)
    const lists = [ratios(0.5), ratios(0.9), ratios(1.3)]
    const [a, b, c] = lists as [number[], number[], number[]]
    for (const exact of [0.2, 1.234567, 2.71, 9]) {
      let best: [number, number] = [3, 0]
      for (const x of a)
        for (const y of b)
          for (const z of c) {
            const one = merit((x * y * z) / exact - 1)
            if (one[0] < best[0] || (one[0] === best[0] && one[1] < best[1])) best = one
          }
      const found = solveStages(
        exact,
        lists.map((list): Find => ({ ratios: list })),
        USUAL,
        3,
      )
      const own = merit(found.solutions[0]!.errorFraction)
      expect(own[0]).toBe(best[0])
      expect(own[1]).toBeCloseTo(best[1], 12)
      expect(found.searched).toBeLessThan(50_000)
    }
  })

  // Wrong until 2026-11: of 200 ratios between the two only the nearest to the aim were looked at, and 0.99 came first.
  test('with an aim below true, any over-reading solution ranks before an under-reading one', () => {
    const aim = { minFraction: -0.5, maxFraction: -0.4 }
    const ratios = [...Array.from({ length: 200 }, (_, i) => 0.7 + i / 1000), 1.5]
    const { solutions } = solveStages(1, [{ ratios }], aim, 2)
    expect(solutions.map(({ choices }) => choices[0]!.ratio)).toEqual([1.5, 0.7])
  })

  test('the error of a search that is too large names the longest list', () => {
    const many = Array.from({ length: 200 }, (_, index) => index + 5)
    const wide: Find = { driving: many, driven: many }
    const few: Find = { ratios: [1, 2] }
    expect(() => solveStages(1, [few, wide, wide, wide], USUAL, 1, [0, 2, 3, 5])).toThrow(
      expect.objectContaining({
        code: 'search-too-large',
        context: expect.objectContaining({ pointer: '/stages/2/find' }),
      }),
    )
  })

  test('rejects a path without open stages and an aim with its minimum above its maximum', () => {
    expect(() => solveStages(1, [], USUAL, 1)).toThrow(expect.objectContaining({ code: 'no-open-stage' }))
    expect(() => solveStages(1, ['exact'], { minFraction: 0.1, maxFraction: 0 }, 1)).toThrow(
      expect.objectContaining({ code: 'aim-crossed' }),
    )
  })
})
