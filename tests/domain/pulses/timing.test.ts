import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { exact } from '../../../src/domain/measure/figure.js'
import { ratioOf } from '../../../src/domain/measure/ratio.js'
import { accumulatorWord } from '../../../src/domain/pulses/scaling.js'
import {
  crossoverHz,
  gateSpeedStepMPerS,
  lowestSpeedMPerS,
  periodSpeedStepMPerS,
  pulseFrequencyHz,
} from '../../../src/domain/pulses/timing.js'

const { timing } = JSON.parse(
  readFileSync(join(import.meta.dirname, '../../vectors/drive-paths.json'), 'utf8'),
)
const perM = timing.perKm / 1000

describe(`pulse timing, ${timing.source}`, () => {
  test('one count over half a second', () =>
    expect(gateSpeedStepMPerS(perM, 0.5) * 3.6).toBeCloseTo(timing.gateStepKmhAtHalfSecond, 12))
  test('clock ticks in one period at 100 km/h', () => {
    expect(1e6 / pulseFrequencyHz(perM, 100 / 3.6)).toBeCloseTo(timing.ticksAt100KmhWith1MHz, 6)
    expect(100 / 3.6 / periodSpeedStepMPerS(perM, 100 / 3.6, 1e-6, 1)).toBeCloseTo(
      timing.ticksAt100KmhWith1MHz,
      6,
    )
  })
  test('crossover of counting and timing', () => {
    expect(crossoverHz(1e-6, 1)).toBeCloseTo(timing.crossoverHz1MHz1s, 9)
    expect(crossoverHz(1 / 16e6, 0.1)).toBeCloseTo(timing.crossoverHz16MHz100ms, 4)
  })
  test('lowest speed and its timeout', () => {
    expect(lowestSpeedMPerS(exact(perM), exact(timing.timeoutSForLowest2Kmh)).value * 3.6).toBeCloseTo(2, 12)
  })
  test('at the crossover both methods have the same resolution', () => {
    const [tick, gate] = [1e-6, 0.25]
    const v = crossoverHz(tick, gate) / perM
    expect(periodSpeedStepMPerS(perM, v, tick, 1)).toBeCloseTo(gateSpeedStepMPerS(perM, gate), 12)
  })
})

describe('accumulatorWord(ratio, bits)', () => {
  test('outputs the computed number of pulses when run', () => {
    const ratio = ratioOf(8000, 12605)
    const { word } = accumulatorWord(ratio, 16)!
    let phase = 0
    let out = 0
    for (let pulse = 0; pulse < 126_050; pulse++) {
      phase += word
      if (phase >= 65_536) {
        phase -= 65_536
        out++
      }
    }
    // Ten miles of pulses in: 80 000 out, within the rounding of the word (half a step in 41 593) and one pulse.
    expect(Math.abs(out - 80_000)).toBeLessThanOrEqual(1 + (80_000 * 0.5) / word)
  })
  test('has no word for more output than input pulses, or for hardly any', () => {
    expect(accumulatorWord(ratioOf(3, 2), 16)).toBeUndefined()
    expect(accumulatorWord(ratioOf(1, 1), 16)).toBeUndefined()
    expect(accumulatorWord(ratioOf(1, 1_000_000), 8)).toBeUndefined()
  })
})
