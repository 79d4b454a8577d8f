import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import {
  chordFromEdges,
  chordOfCircle,
  circleDiameterFromChord,
  largestBoltM,
} from '../../../src/domain/parts/bolt-circle.js'

// Machinery's Handbook, "Lengths of chords for spacing off the circumferences of circles with a diameter equal to 1"; from memory.
/** Bolts, chord in units of the fifth decimal. */
const CHORDS: ReadonlyArray<readonly [number, number]> = [
  [3, 86603],
  [4, 70711],
  [5, 58779],
  [6, 50000],
  [7, 43388],
  [8, 38268],
  [9, 34202],
  [10, 30902],
  [12, 25882],
  [24, 13053],
]

describe('chordOfCircle(diameter, bolts, 1)', () => {
  for (const [bolts, chord] of CHORDS) {
    test(`is 0.${chord} for ${bolts} holes on a circle of 1 (Machinery's Handbook)`, () => {
      expect(Math.abs(chordOfCircle(exact(1), bolts, 1).value - chord / 1e5)).toBeLessThanOrEqual(5e-6)
    })
  }

  test('over three of five holes is the diagonal of a pentagon: golden ratio times its side', () => {
    const side = chordOfCircle(exact(0.1143), 5, 1).value
    const diagonal = chordOfCircle(exact(0.1143), 5, 2).value
    expect(diagonal / side).toBeCloseTo((1 + Math.sqrt(5)) / 2, 12)
  })

  test('opposite holes are a diameter apart', () => {
    for (const bolts of [2, 4, 6, 8])
      expect(chordOfCircle(exact(0.1), bolts, bolts / 2).value).toBeCloseTo(0.1, 15)
  })
})

describe('circleDiameterFromChord(chord, bolts, steps)', () => {
  test('inverts chordOfCircle, including uncertainty', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.01, max: 1, noNaN: true }),
        fc.integer({ min: 2, max: 24 }),
        (diameter, bolts) => {
          for (let steps = 1; steps <= Math.floor(bolts / 2); steps++) {
            const chord = chordOfCircle(uncertain(diameter, 'caliper', 1e-4), bolts, steps)
            const back = circleDiameterFromChord(chord, bolts, steps)
            expect(back.value / diameter).toBeCloseTo(1, 12)
            expect(plusMinus(back)).toBeCloseTo(2e-4, 12)
          }
        },
      ),
    )
  })

  test('widens the uncertainty of a short chord: 0.1 mm between neighbors of ten is 0.1/sin 18 deg on the circle', () => {
    // sin 18 deg = (sqrt 5 - 1)/4, exactly.
    const diameter = circleDiameterFromChord(uncertain(0.03, 'caliper', 0.5e-4), 10, 1)
    expect(plusMinus(diameter)).toBeCloseTo(1e-4 / ((Math.sqrt(5) - 1) / 4), 12)
  })

  test.each([
    [1, 1],
    [25, 1],
    [5, 0],
    [5, 3],
  ])('refuses %d bolts, %d steps', (bolts, steps) => {
    expect(() => circleDiameterFromChord(exact(0.05), bolts, steps)).toThrow(
      expect.objectContaining({ code: 'out-of-range' }),
    )
  })
})

describe('chordFromEdges(near, far)', () => {
  test('holes of 8.5 mm, 50 mm apart: 41.5 mm between them, 58.5 mm over them', () => {
    const { chordM, boltHoleM } = chordFromEdges(
      uncertain(0.0415, 'near', 3e-5),
      uncertain(0.0585, 'far', 4e-5),
    )
    expect(chordM.value).toBeCloseTo(0.05, 15)
    expect(boltHoleM.value).toBeCloseTo(0.0085, 15)
    // Half of sqrt(0.03^2 + 0.04^2) = 0.05 mm, k = 2.
    expect(plusMinus(chordM)).toBeCloseTo(5e-5, 15)
    expect(plusMinus(boltHoleM)).toBeCloseTo(5e-5, 15)
  })

  test('refuses far edges that are closer than the near ones', () => {
    expect(() => chordFromEdges(exact(0.05), exact(0.05))).toThrow(
      expect.objectContaining({ code: 'out-of-range' }),
    )
  })
})

describe('largestBoltM(first, second, offset)', () => {
  test('is a circle that stays inside both holes and touches them', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.002, max: 0.02, noNaN: true }),
        fc.double({ min: 0.002, max: 0.02, noNaN: true }),
        fc.double({ min: 0, max: 0.03, noNaN: true }),
        (first, second, offset) => {
          const bolt = largestBoltM(first, second, offset)
          // Independently: the best place of the bolt on the line of centers, by trial.
          let best = 0
          for (let x = -1; x <= 2; x += 1 / 1024) {
            const at = x * offset
            best = Math.max(best, Math.min(first - 2 * Math.abs(at), second - 2 * Math.abs(at - offset)))
          }
          expect(bolt).toBeGreaterThanOrEqual(best - 1e-12)
          expect(bolt - best).toBeLessThanOrEqual((2 * offset) / 1024 + 1e-12)
        },
      ),
    )
  })
})
