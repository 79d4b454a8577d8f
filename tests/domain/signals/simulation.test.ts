import { describe, expect, test } from 'vitest'
import { noiseGain, settlingSamples } from '../../../src/domain/signals/response.js'
import { shownSpeeds } from '../../../src/domain/signals/shown-speeds.js'
import {
  MAX_PULSES,
  type Simulation,
  type SimulationRequest,
  simulate,
  simulationSize,
} from '../../../src/domain/signals/simulation.js'

const KMH = 1 / 3.6

/** Four pulses a meter (4000 a kilometer), an even ring, no disturbance, a fine display. */
function drive(profile: [number, number][], more: Partial<SimulationRequest> = {}): SimulationRequest {
  return {
    pulsesPerM: 4,
    ring: { pulsesPerTurn: 1 },
    profile: profile.map(([tS, speedMPerS]) => ({ tS, speedMPerS })),
    display: { everyS: 0.001 },
    seriesPoints: 200,
    ...more,
  }
}

/** Indicated speeds of a simulation [m/s]; its series holds [s, km/h]. */
const shownOf = ({ series }: Simulation) => series[1]!.points.map(([, kmh]) => kmh * KMH)

const steady = (speed: number, lasting: number, more: Partial<SimulationRequest> = {}) =>
  simulate(
    drive(
      [
        [0, speed],
        [lasting, speed],
      ],
      more,
    ),
  )

test.each([
  [1.2, 0.1, 12],
  [0.7, 0.1, 7],
  [3, 0.25, 12],
  [1.19, 0.1, 11],
])(
  'a drive of %d s shown every %d s has %i updates: rounding lost the last one',
  (lastsS, everyS, updates) => {
    const profile = [
      { tS: 0, speedMPerS: 20 },
      { tS: lastsS, speedMPerS: 20 },
    ]
    expect(simulationSize({ pulsesPerM: 4, display: { everyS }, profile }).updates).toBe(updates)
    expect(steady(20, lastsS, { display: { everyS } }).displayUpdates).toBe(updates)
  },
)

describe('closed forms', () => {
  test('noise: a filter passes √(a/(2 − a)) of white noise, within 3 % (NIST/SEMATECH e-Handbook 6.3.2.4)', () => {
    // One turn of a ring with 200 000 random gaps: noise that does not repeat.
    const noisy = {
      ring: { pulsesPerTurn: 200_000, rms: 0.02 },
      display: { everyS: 0.0125 },
    }
    const before = steady(20, 2500, noisy).steadySpreadMPerS!
    // The reading itself: 2 % of 20 m/s.
    expect(before).toBeCloseTo(0.4, 2)
    for (const factor of [0.5, 0.25, 0.0625]) {
      const after = steady(20, 2500, { ...noisy, filter: { factor } }).steadySpreadMPerS!
      const expected = Math.sqrt(factor / (2 - factor))
      expect(Math.abs(after / before / expected - 1), `a = ${factor}`).toBeLessThan(0.03)
    }
    const average = steady(20, 2500, { ...noisy, filter: { movingAverage: 16 } }).steadySpreadMPerS!
    expect(Math.abs(average / before / (1 / 4) - 1)).toBeLessThan(0.03)
    const both = { median: 3, factor: 0.25 } as const
    const median = steady(20, 2500, { ...noisy, filter: both }).steadySpreadMPerS!
    expect(Math.abs(median / before / noiseGain(both) - 1)).toBeLessThan(0.03)
  })

  test('settling: smallest n with 1 − (1 − a)ⁿ ≥ 0.95 readings of the new period, one more for the period that straddles the step', () => {
    for (const factor of [1, 0.5, 0.25, 0.0625]) {
      const step: [number, number][] = [
        [0, 10],
        [20, 10],
        [20, 20],
        [40, 20],
      ]
      const { settling95S } = simulate(drive(step, { filter: { factor } }))
      // 1/(4 · 20) s a reading
      const n = settlingSamples({ factor }, 0.95)
      expect(settling95S, `a = ${factor}`).toBeGreaterThanOrEqual((n - 1) * 0.0125 - 1e-9)
      expect(settling95S, `a = ${factor}`).toBeLessThanOrEqual((n + 1) * 0.0125 + 0.001)
    }
  })

  test('ramp lag: ((1 − a)/a + 1) periods: the filter, half a period of measuring, half of waiting for the next pulse', () => {
    for (const factor of [1, 0.25, 0.1]) {
      // 20 to 30 m/s in 100 s: the mean of 1/(4·v) over the time is ln(1.5)/40 s.
      const ramp: [number, number][] = [
        [0, 20],
        [100, 30],
      ]
      const { lagS } = simulate(drive(ramp, { filter: { factor } }))
      const expected = ((1 - factor) / factor + 1) * (Math.log(1.5) / 40)
      expect(Math.abs(lagS! / expected - 1), `a = ${factor}`).toBeLessThan(0.02)
    }
  })

  test('zero time: the timeout after the last pulse, which came up to a period before the stop', () => {
    const stop: [number, number][] = [
      [0, 10],
      [10, 10],
      [10, 0],
      [14, 0],
    ]
    for (const betweenPulses of ['hold', 'bound'] as const) {
      const { timeToZeroS } = simulate(drive(stop, { zeroTimeoutS: 0.45, betweenPulses }))
      expect(timeToZeroS).toBeGreaterThanOrEqual(0.45 - 1 / 40)
      expect(timeToZeroS).toBeLessThanOrEqual(0.45 + 0.001 + 1e-9)
    }
  })

  test('a plain timeout of 0.45 s at 4000 pulses per km shows zero below 2 km/h and the speed above (3600/(K·T))', () => {
    const below = steady(1.98 * KMH, 60, { zeroTimeoutS: 0.45 })
    const above = steady(2.02 * KMH, 60, { zeroTimeoutS: 0.45 })
    expect(Math.max(...shownOf(below))).toBe(0)
    expect(above.peakErrorMPerS).toBeLessThan(1e-9)
  })

  test('during silence the display shows min(last, 1/(K·t)), the bound that follows from the silence', () => {
    const every = 0.01
    const readOut = {
      pulsesPerM: 4,
      timerTickS: 0,
      filterOn: 'speed',
      zeroTimeoutS: 1,
      betweenPulses: 'bound',
      display: { everyS: every },
    } as const
    // Two pulses 25 ms apart (10 m/s), the last at 0.025 s, then none.
    const { speedsMPerS } = shownSpeeds(Float64Array.of(0, 0.025), readOut, 120)
    for (let j = 3; j < 100; j++) {
      const silence = (j + 1) * every - 0.025
      expect(speedsMPerS[j]).toBeCloseTo(Math.min(10, 1 / (4 * silence)), 9)
    }
    // The silence passes 1 s between 1.02 and 1.03 s.
    expect(speedsMPerS[101]).toBeGreaterThan(0)
    expect(speedsMPerS[102]).toBe(0)
  })

  test('100 km/h, 4000 pulses per km, 1 MHz: 9000 counts a period; one count is 1/9000 of the speed', () => {
    const { peakErrorMPerS } = steady(100 * KMH, 10, { timerTickS: 1e-6 })
    // Edges fall on the counts here, so that rounding may move one of them by a count.
    expect(peakErrorMPerS).toBeLessThanOrEqual((100 * KMH) / 8999)
  })

  test('a timer of f counts a second moves the reading by at most one count in a period: K·v/f', () => {
    const { peakErrorMPerS } = steady(33.3, 20, { timerTickS: 4e-6 })
    const counts = 1 / (4 * 33.3) / 4e-6
    expect(peakErrorMPerS).toBeGreaterThan(0)
    expect(peakErrorMPerS).toBeLessThanOrEqual(33.3 / (counts - 1))
  })

  test('unsigned subtraction survives a counter wrap, and a period longer than the counter is misread by its length', () => {
    const wrapping = { timerTickS: 1e-6, timerBits: 16 }
    // 9 ms fits into 65.536 ms; the counter wraps over a hundred times.
    expect(steady(100 * KMH, 10, wrapping).peakErrorMPerS).toBeLessThan(0.01)
    // 70 ms does not: 70 − 65.536 = 4.464 ms are counted.
    const slow = steady(1 / (4 * 0.07), 20, wrapping)
    expect(shownOf(slow)[50]).toBeCloseTo(1 / (4 * 0.004464), 1)
    expect(slow.notes.map(({ code }) => code)).toContain('counter-wraps-in-a-period')
  })

  test('a mean over whole turns of the periods is free of ring errors; one pulse fewer is not', () => {
    const ring = { pulsesPerTurn: 8, errors: [0.04, -0.02, 0.03, -0.05, 0.01, 0.02, -0.04, 0.01] }
    const whole = steady(20, 60, { ring, filter: { movingAverage: 8 }, filterOn: 'period' })
    const short = steady(20, 60, { ring, filter: { movingAverage: 7 }, filterOn: 'period' })
    expect(whole.steadySpreadMPerS).toBeLessThan(1e-6)
    expect(short.steadySpreadMPerS).toBeGreaterThan(0.01)
  })

  test('the mean of 1/T is high by σ²/T²; filtering the period avoids that', () => {
    const noisy = { ring: { pulsesPerTurn: 100_000, rms: 0.1 }, display: { everyS: 0.0125 } }
    const onSpeed = steady(20, 1250, { ...noisy, filter: { factor: 0.0625 } })
    const onPeriod = steady(20, 1250, { ...noisy, filter: { factor: 0.0625 }, filterOn: 'period' })
    expect(onSpeed.steadyBiasMPerS! / 20).toBeGreaterThan(0.009)
    expect(onSpeed.steadyBiasMPerS! / 20).toBeLessThan(0.0115)
    expect(Math.abs(onPeriod.steadyBiasMPerS! / 20)).toBeLessThan(0.001)
  })

  test('an eccentric ring over-reads and under-reads by e/r once per turn', () => {
    const ring = { pulsesPerTurn: 64, eccentricity: 0.03 }
    const { peakErrorMPerS } = steady(20, 60, { ring })
    expect(peakErrorMPerS / 20).toBeGreaterThan(0.0295)
    expect(peakErrorMPerS / 20).toBeLessThan(0.0312)
  })
})

describe('disturbances', () => {
  test('pulses are missed and added as often as requested, within five standard deviations', () => {
    const n = 200_000
    const { missedPulses, extraPulses, pulses } = steady(20, n / 80, {
      missed: 0.02,
      extra: 0.01,
      display: { everyS: 1 },
    })
    expect(Math.abs(missedPulses - 0.02 * n)).toBeLessThan(5 * Math.sqrt(n * 0.02 * 0.98))
    expect(Math.abs(extraPulses - 0.01 * n)).toBeLessThan(5 * Math.sqrt(n * 0.01 * 0.99))
    expect(pulses).toBe(n - missedPulses + extraPulses)
  })

  test('a single missed pulse halves the reading, and a median of 3 rejects it', () => {
    const missing = { missed: 0.002, seed: 5 }
    expect(steady(20, 20, missing).peakErrorMPerS).toBeGreaterThan(9.9)
    expect(steady(20, 20, { ...missing, filter: { median: 3 } }).peakErrorMPerS).toBeLessThan(1e-9)
  })

  test('the same seed gives exactly the same answer, another seed another', () => {
    const noisy = { edgeJitterS: 1e-4, missed: 0.01, extra: 0.01 }
    expect(steady(20, 20, noisy)).toEqual(steady(20, 20, noisy))
    expect(steady(20, 20, { ...noisy, seed: 2 }).rmsErrorMPerS).not.toBe(steady(20, 20, noisy).rmsErrorMPerS)
  })
})

describe('results that the drive does not determine are absent', () => {
  test('no ramp, no step, no stop', () => {
    const result = steady(20, 5)
    expect(result).not.toHaveProperty('lagS')
    expect(result).not.toHaveProperty('settling95S')
    expect(result).not.toHaveProperty('timeToZeroS')
    expect(result.steadySpreadMPerS).toBeLessThan(1e-9)
  })

  test('a note reports a stop that the display never shows', () => {
    const result = simulate(
      drive([
        [0, 10],
        [10, 10],
        [10, 0],
        [14, 0],
      ]),
    )
    expect(result).not.toHaveProperty('timeToZeroS')
    expect(result.notes.map(({ code }) => code)).toContain('zero-not-shown')
  })
})

describe('limits', () => {
  test('a ramp from rest gives K·s pulses, the first at √(2·s/a)', () => {
    // 2 m/s² for 10 s: 100 m, 400 pulses; 1/8 m after √(0.125) s
    const result = simulate(
      drive(
        [
          [0, 0],
          [10, 20],
        ],
        { display: { everyS: 0.01 }, seriesPoints: 2000 },
      ),
    )
    expect(result.pulses).toBe(400)
    // The second pulse, at 3/8 m, gives the first reading.
    const firstShown = shownOf(result).findIndex((speed) => speed > 0)
    expect(result.series[1]!.points[firstShown]![0]).toBeCloseTo(Math.ceil(Math.sqrt(0.375) * 100) / 100, 9)
  })

  test('2 million pulses are accepted, one more is not', () => {
    const size = (pulses: number) =>
      simulationSize({
        pulsesPerM: 1,
        display: { everyS: 10_000 },
        profile: [
          { tS: 0, speedMPerS: pulses / 100_000 },
          { tS: 100_000, speedMPerS: pulses / 100_000 },
        ],
      })
    expect(size(MAX_PULSES).pulses).toBe(2_000_000)
    expect(() => size(MAX_PULSES + 1)).toThrow(expect.objectContaining({ code: 'simulation-too-long' }))
  })

  test('a series of many updates keeps its extremes', () => {
    const result = steady(20, 200, { missed: 0.0001, seed: 3, seriesPoints: 50 })
    const shown = shownOf(result)
    const read = shown.filter((speed) => speed > 0)
    expect(shown.length).toBeLessThanOrEqual(50)
    expect(result.missedPulses).toBeGreaterThan(0)
    expect(Math.min(...read)).toBeCloseTo(20 - result.peakErrorMPerS, 9)
  })
})

describe('the bound during silence', () => {
  // 16 teeth cut in halves, joints 0.2 wider: gaps 0 and 8 are 1.175 pitches, the others 0.975.
  const halves = {
    ring: { pulsesPerTurn: 16, joint: 0.2 },
    filter: { movingAverage: 16 },
    filterOn: 'period',
  } as const
  const dipsOf = ({ notes }: ReturnType<typeof simulate>) => notes.find(({ code }) => code === 'bound-dips')

  // Until 2026-11 the display of a ring cut in halves dipped twice per turn despite a mean over whole turns, and no note said so.
  test('dips in the wide gaps of a ring by their extra width, and a note says how much', () => {
    const speed = 60 * 0.44704
    const found = steady(speed, 60, { ...halves, betweenPulses: 'bound' })
    // After the mean over a turn the reading is true. From 1 to w pitches of silence the bound shows 1/x of it, in 2 of 16 pitches:
    const w = 1.175
    const mean = (w - 1 - Math.log(w)) / 8
    const meanSquare = (w - 1 - 2 * Math.log(w) + 1 - 1 / w) / 8
    const spread = speed * Math.sqrt(meanSquare - mean ** 2)
    expect(Math.abs(found.steadySpreadMPerS! / spread - 1)).toBeLessThan(0.03)
    expect(Math.abs(found.steadyBiasMPerS! / (-mean * speed) - 1)).toBeLessThan(0.03)
    const note = dipsOf(found)!
    expect(note.level).toBe('caution')
    expect(note.text).toContain('gaps of the ring up to 17.5 % wider than the mean')
    // 1 - 1/1.175 = 14.89 %, at the last update before the pulse
    expect(Number(/dips by up to ([\d.]+) %/.exec(note.text)![1])).toBeCloseTo(14.9, 0)
    expect(note.text).toContain('1.18/(pulses per distance × silence)')
  })

  test('gives no note on an even ring, with the last value held, or for dips below 0.5 %', () => {
    const even = steady(20, 30, { ...halves, ring: { pulsesPerTurn: 16 }, betweenPulses: 'bound' })
    expect(dipsOf(even)).toBeUndefined()
    expect(dipsOf(steady(20, 30, halves))).toBeUndefined()
    const slight = steady(20, 30, {
      ...halves,
      ring: { pulsesPerTurn: 16, joint: 0.004 },
      betweenPulses: 'bound',
    })
    expect(dipsOf(slight)).toBeUndefined()
  })

  test('dips to a half when one pulse is missed', () => {
    const note = dipsOf(steady(20, 30, { missed: 0.02, betweenPulses: 'bound' }))!
    expect(note.text).toContain('takes missed pulses for a slower car')
    expect(Number(/dips by up to ([\d.]+) %/.exec(note.text)![1])).toBeGreaterThan(45)
  })
})
