import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { decoder } from '../../../src/codec/decoder.js'
import { givenStage } from '../../../src/domain/drive-paths/given-path.js'
import {
  pathOutput,
  readingOf,
  response,
  type Stage,
  signalOf,
} from '../../../src/domain/drive-paths/path.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { scaled } from '../../../src/domain/measure/propagation.js'
import { inLowestTerms } from '../../../src/domain/measure/ratio.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { fromSi, toSi } from '../../../src/domain/measure/units.js'
import { Stage as StageSchema, type StageShape } from '../../../src/schemas/drive-stages.js'

const vectors = JSON.parse(readFileSync(join(import.meta.dirname, '../../vectors/drive-paths.json'), 'utf8'))

const decode = decoder(StageSchema)
const stageOf = (stage: StageShape, index: number) => givenStage(decode(stage), index)

const perMile = (value: number) => exact(toSi('perDistance', 'perMile', value))
const head = (constantPerMile: number) => ({
  input: 'turns' as const,
  constantPerM: perMile(constantPerMile),
  scale: exact(1),
  offsetMPerS: exact(0),
})

describe('pathOutput(wheelTurnsPerM, stages), worked values', () => {
  for (const { source, turnsPerMile, stages, expected, tolerance } of vectors.turns) {
    test(source, () => {
      const { outputPerM } = pathOutput(perMile(turnsPerMile), stages.map(stageOf))
      const out = fromSi('perDistance', 'perMile', outputPerM.value)
      expect(Math.abs(out - expected.outputPerMile)).toBeLessThanOrEqual(tolerance.outputPerMile)
      const slope = response(outputPerM, head(1000)).indicatedPerTrue.value
      if (expected.indicatedPerTrue !== undefined) {
        expect(Math.abs(slope - expected.indicatedPerTrue)).toBeLessThanOrEqual(tolerance.indicatedPerTrue)
        expect(Math.abs(1 / slope - expected.correction)).toBeLessThanOrEqual(tolerance.correction)
      }
      if (expected.outputPerKm !== undefined) {
        const perKm = fromSi('perDistance', 'perKm', outputPerM.value)
        expect(Math.abs(perKm - expected.outputPerKm)).toBeLessThanOrEqual(tolerance.outputPerKm)
        const rpm = fromSi('rotational-speed', 'rpm', outputPerM.value * toSi('speed', 'mph', 60))
        expect(Math.abs(rpm - expected.rpmAt60Mph)).toBeLessThanOrEqual(tolerance.rpmAt60Mph)
      }
    })
  }

  for (const {
    source,
    circumferenceMm,
    pulsesPerTurn,
    constantPerKm,
    expected,
    tolerance,
  } of vectors.pulses) {
    test(source, () => {
      const ring = stageOf({ kind: 'pulse-ring', pulsesPerTurn }, 0)
      const { outputPerM, signal } = pathOutput(exact(1000 / circumferenceMm), [ring])
      expect(signal).toBe('pulses')
      const perKm = fromSi('perDistance', 'perKm', outputPerM.value)
      expect(Math.abs(perKm - expected.perKm)).toBeLessThanOrEqual(tolerance.perKm)
      expect(Math.abs((perKm / constantPerKm - 1) * 100 - expected.errorPercent)).toBeLessThanOrEqual(
        tolerance.errorPercent,
      )
    })
  }
})

describe('pathOutput(wheelTurnsPerM, stages), properties', () => {
  const teeth = fc.integer({ min: 5, max: 80 })
  const pair = fc
    .tuple(teeth, teeth)
    .map(([driving, driven]) => ({ kind: 'gear-pair' as const, teeth: { driving, driven } }))
  const stagesOf = (pairs: Array<Parameters<typeof stageOf>[0]>): Stage[] => pairs.map(stageOf)

  test('a stage scales the output by its ratio, at any position', () => {
    fc.assert(
      fc.property(fc.array(pair, { maxLength: 5 }), pair, fc.nat(5), (pairs, extra, at) => {
        const position = Math.min(at, pairs.length)
        const without = pathOutput(exact(0.5), stagesOf(pairs)).outputPerM.value
        const with_ = pathOutput(exact(0.5), stagesOf(pairs.toSpliced(position, 0, extra))).outputPerM.value
        expect(with_ / without).toBeCloseTo(extra.teeth.driving / extra.teeth.driven, 12)
      }),
    )
  })

  test('the exact ratio is the product of the tooth counts in lowest terms', () => {
    const exactRatio = pathOutput(
      exact(1),
      stagesOf([
        { kind: 'final-drive', ring: 37, pinion: 9 },
        { kind: 'gear-pair', teeth: { driving: 6, driven: 20 } },
      ]),
    ).stagesRatioExact
    // 37/9 x 6/20 = 222/180 = 37/30
    expect(inLowestTerms(exactRatio!).toFraction()).toBe('37/30')
  })

  test('the uncertainty of the output grows with the uncertainty of any input', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 0.1, noNaN: true }),
        fc.double({ min: 0, max: 0.1, noNaN: true }),
        (u, more) => {
          const uncertainty = (ratioUncertainty: number) =>
            plusMinus(
              pathOutput(uncertain(0.5, 'tire', 0.01), [
                { kind: 'final-drive', name: 'axle', ratio: uncertain(3.7, 'axle', ratioUncertainty) },
              ]).outputPerM,
            )
          expect(uncertainty(u + more)).toBeGreaterThanOrEqual(uncertainty(u))
        },
      ),
    )
  })

  test('relative uncertainties of a chain add in quadrature (JCGM 100:2008, 5.1.6)', () => {
    const { outputPerM } = pathOutput(uncertain(0.5, 'tire', 0.005), [
      { kind: 'final-drive', name: 'axle', ratio: uncertain(4, 'axle', 0.04) },
    ])
    // 1 % and 1 %: sqrt(2) %, of 2 per meter, times two
    expect(plusMinus(outputPerM)).toBeCloseTo(2 * 2 * 0.01 * Math.SQRT2, 12)
  })
})

describe('signalOf(kinds) rejects an impossible order', () => {
  test.each([
    [['pulse-ring', 'pulse-ring'], '/stages/1'],
    [['pulse-scaler'], '/stages/0'],
    [['pulse-ring', 'gear-pair'], '/stages/1'],
  ] as const)('%j', (kinds, pointer) => {
    expect(() => signalOf(kinds)).toThrow(
      expect.objectContaining({ code: 'path-order', context: expect.objectContaining({ pointer }) }),
    )
  })

  test('and accepts a wheel alone, rotating stages, a ring, scalers', () => {
    expect(signalOf([])).toBe('turns')
    expect(signalOf(['final-drive', 'transfer-case', 'pulse-ring', 'pulse-scaler', 'pulse-scaler'])).toBe(
      'pulses',
    )
  })
})

describe('readingOf(line)', () => {
  test('a straight line whose uncertainty follows the propagation law, shared inputs once', () => {
    const line = {
      indicatedPerTrue: uncertain(1.02, 'calibration', 0.01),
      offsetMPerS: scaled(uncertain(-0.5, 'calibration', 0.2), -1),
    }
    // Shared input: u = |20 * 0.01 - 0.2| = 0
    expect(readingOf(line)(20).spread.u).toBeCloseTo(0, 12)
    const apart = { indicatedPerTrue: uncertain(1.02, 'a', 0.01), offsetMPerS: uncertain(0.5, 'b', 0.2) }
    expect(readingOf(apart)(20).spread.u).toBeCloseTo(Math.hypot(0.2, 0.2), 12)
    expect(readingOf(apart)(20).indicatedMPerS).toBeCloseTo(20.9, 12)
  })

  test('never below zero: a pointer rests on its stop', () => {
    expect(readingOf({ indicatedPerTrue: exact(1), offsetMPerS: exact(-3) })(2).indicatedMPerS).toBe(0)
  })

  test("the head's own speed error does not affect the odometer (TM 9-1829A)", () => {
    const own = { ...head(1000), scale: exact(1.05), offsetMPerS: exact(1) }
    const line = response(perMile(1000), own)
    expect(line.indicatedPerTrue.value).toBeCloseTo(1.05, 12)
    expect(line.odometerPerTrue.value).toBeCloseTo(1, 12)
  })
})
