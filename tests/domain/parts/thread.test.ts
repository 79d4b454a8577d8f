import { describe, expect, test } from 'vitest'
import { parseThread } from '../../../src/domain/parts/thread.js'

const INCH_MM = 25.4

describe('parseThread(text), metric', () => {
  // ISO 261, coarse pitch [mm]; from memory. Second and third choices were said to have none.
  const coarse: ReadonlyArray<readonly [number, number]> = [
    [1.1, 0.25],
    [1.4, 0.3],
    [1.8, 0.35],
    [2.2, 0.45],
    [4.5, 0.75],
    [9, 1.25],
    [11, 1.5],
    [68, 6],
    [3, 0.5],
    [4, 0.7],
    [5, 0.8],
    [6, 1],
    [8, 1.25],
    [10, 1.5],
    [12, 1.75],
    [16, 2],
    [18, 2.5],
    [20, 2.5],
    [24, 3],
  ]
  for (const [diameter, pitch] of coarse) {
    test(`M${diameter} has the coarse pitch ${pitch} mm (ISO 261)`, () => {
      expect(parseThread(`M${diameter}`).pitchM * 1000).toBeCloseTo(pitch, 12)
      expect(parseThread(`M${diameter}`).designation).toBe(`M${diameter}x${pitch}`)
    })
  }

  test('asks for the pitch if no coarse one is known, with a valid example', () => {
    expect(() => parseThread('M13')).toThrow(/no coarse pitch is known for 13 mm; .* M18x1\.5/)
  })

  test.each(['M18x1.5', 'm18 x 1,5', 'M18×1.5', 'M 18X1.50', 'M18x1.5-6H', 'm18*1.5 - 6g', 'M18x1.5-5H6H'])(
    '%s reads as M18x1.5',
    (text) => {
      expect(parseThread(text)).toEqual({
        designation: 'M18x1.5',
        majorDiameterM: 0.018,
        pitchM: 0.0015,
        flankAngleDeg: 60,
        hand: 'right',
      })
    },
  )

  test('LH is a left-hand thread', () => {
    expect(parseThread('M18x1.5 LH')).toMatchObject({ designation: 'M18x1.5 LH', hand: 'left' })
    expect(parseThread('7/8-18 UNS-LH')).toMatchObject({ designation: '7/8-18 UNS LH', hand: 'left' })
  })
})

describe('parseThread(text), inch', () => {
  // ASME B1.1 basic major diameter [in] of the numbered sizes, from memory.
  const numbered: ReadonlyArray<readonly [string, number]> = [
    ['#0-80', 0.06],
    ['2-56', 0.086],
    ['4-40', 0.112],
    ['#5-40', 0.125],
    ['No. 6-32', 0.138],
    ['8-32', 0.164],
    ['10-24', 0.19],
    ['10-32 UNF-2A', 0.19],
    ['12-24', 0.216],
  ]
  for (const [text, inches] of numbered) {
    test(`${text} has a major diameter of ${inches} in (ASME B1.1)`, () => {
      expect(parseThread(text).majorDiameterM * 1000).toBeCloseTo(inches * INCH_MM, 10)
    })
  }

  test.each([
    ['7/8-18', 7 / 8, 18, '7/8-18'],
    ['5/8-18 UNF', 5 / 8, 18, '5/8-18 UNF'],
    ['7/8" x 18 TPI', 7 / 8, 18, '7/8-18'],
    ['1 1/8-12', 9 / 8, 12, '1 1/8-12'],
    ['1-1/8-12', 9 / 8, 12, '1 1/8-12'],
    ['1-8 UNC', 1, 8, '1-8 UNC'],
    ['0.875-18', 0.875, 18, '0.875-18'],
    ['5/8-18 UNEF', 5 / 8, 18, '5/8-18 UNEF'],
  ])('%s is %d in with %d threads to the inch', (text, inches, perInch, designation) => {
    const thread = parseThread(text)
    expect(thread.designation).toBe(designation)
    expect(thread.majorDiameterM * 1000).toBeCloseTo(inches * INCH_MM, 10)
    expect(thread.pitchM * 1000).toBeCloseTo(INCH_MM / perInch, 10)
    expect(thread.flankAngleDeg).toBe(60)
  })

  test.each(['1/4-26 BSF', '1/4-20 BSW', '3/8-26 ME', '3/8 - 16 w'])('%s has 55 degree flanks', (text) => {
    expect(parseThread(text).flankAngleDeg).toBe(55)
  })
})

describe('parseThread(text) refuses', () => {
  test.each(['', 'M', 'M18x', '7/8', '1/4 BSF', 'G 1/8', 'thread 18', '7/9-18', 'M17', '18-'])(
    '%j',
    (text) => {
      expect(() => parseThread(text)).toThrow(expect.objectContaining({ code: 'thread-not-understood' }))
    },
  )

  test.each(['M18x15', 'M0.5x0.1', 'M999x6', '1/4-2', '1/64-80', '13-4'])(
    '%j, a number that no thread has',
    (text) => {
      expect(() => parseThread(text)).toThrow(
        expect.objectContaining({
          code: 'out-of-range',
          context: expect.objectContaining({ pointer: '/designation' }),
        }),
      )
    },
  )

  test('every reading of its own designation is the same thread', () => {
    for (const text of [
      'M18x1.5',
      'M12',
      '#10-32',
      '7/8-18 UNS',
      '1 1/8-12 LH',
      '3/8-26 ME',
      '0.875-18',
      '1-8',
    ]) {
      const thread = parseThread(text)
      expect(parseThread(thread.designation)).toEqual(thread)
    }
  })
})
