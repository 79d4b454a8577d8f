import { describe, expect, test } from 'vitest'
import {
  analyzeLog,
  type LogAnalysis,
  type LogAnalysisRequest,
} from '../../../src/domain/signals/log-analysis.js'
import { burstChance, concentrationChance } from '../../../src/domain/signals/log-findings.js'
import { stretchesOf } from '../../../src/domain/signals/profile.js'
import { pulseTrain } from '../../../src/domain/signals/pulse-train.js'
import { generator } from '../../../src/domain/signals/random.js'
import { ringGapErrors } from '../../../src/domain/signals/ring.js'
import { chance, type LogPlan, type PlannedLog, plannedLog } from '../../../tools/pulse-log.js'
import { noise } from '../../support/noise.js'

const analyze = (timesUs: ArrayLike<number>, more: Partial<LogAnalysisRequest> = {}) =>
  analyzeLog({
    values: Float64Array.from(timesUs),
    content: 'times',
    unitS: 1e-6,
    pulsesPerTurn: 8,
    seriesPoints: 100,
    ...more,
  })

const planned = (plan: LogPlan): LogAnalysis & { log: PlannedLog } => {
  const log = plannedLog(plan)
  return { ...analyze(log.timesUs, { pulsesPerTurn: plan.pulsesPerTurn ?? 8 }), log }
}

const codes = ({ findings }: LogAnalysis) => findings.map(({ code }) => code)
const indexes = (list: readonly { index: number }[]) => list.map(({ index }) => index)

/** Ring errors that sum to zero. */
const RING = [0.04, -0.03, 0.05, -0.06, 0.03, 0.045, -0.035, -0.04]

describe('an independent generator: ring errors', () => {
  test('are found within 10 % each from 20 turns', () => {
    for (const edgeJitter of [0.0005, 0.002, 0.004]) {
      const { ring, causes } = planned({ errors: RING, turns: 20, edgeJitter })
      expect(ring!.significant).toBe(true)
      for (const [gap, error] of RING.entries()) {
        expect(Math.abs(ring!.gaps[gap]!.error / error - 1), `gap ${gap}, jitter ${edgeJitter}`).toBeLessThan(
          0.1,
        )
      }
      expect(causes).toEqual(['ring'])
    }
  })

  test('are found while the speed varies by a tenth', () => {
    const { ring } = planned({ errors: RING, turns: 40, edgeJitter: 0.002, speedSwing: 0.1 })
    for (const [gap, error] of RING.entries()) {
      expect(Math.abs(ring!.gaps[gap]!.error / error - 1), `gap ${gap}`).toBeLessThan(0.1)
    }
  })

  test('lie within their stated uncertainty in about 95 % of the gaps', () => {
    let inside = 0
    for (let start = 1; start <= 60; start++) {
      const { ring } = planned({ errors: RING, turns: 30, edgeJitter: 0.01, start })
      for (const [gap, error] of RING.entries()) {
        if (Math.abs(ring!.gaps[gap]!.error - error) <= ring!.gaps[gap]!.plusMinus) inside++
      }
    }
    // 480 gaps; the normal distribution puts 95.45 % within two: 458 ± 5·4.6
    expect(inside).toBeGreaterThan(435)
  })

  test('are attributed to their fault: run-out once per turn, joints half a turn apart', () => {
    const wave = Array.from({ length: 12 }, (_, i) => 0.04 * Math.cos((2 * Math.PI * (i - 2)) / 12))
    const eccentric = planned({ errors: wave, pulsesPerTurn: 12, turns: 60 })
    expect(codes(eccentric)).toEqual(['ring-eccentric'])
    expect(eccentric.ring!.widestGap).toBe(2)
    // A gap is a chord of the wave: e/r is larger by (π/12)/sin(π/12).
    expect(eccentric.ring!.eccentricity).toBeCloseTo((0.04 * Math.PI) / 12 / Math.sin(Math.PI / 12), 2)
    expect(eccentric.ring!.oncePerTurnShare).toBeGreaterThan(0.95)
    const halves = Array.from({ length: 12 }, (_, i) => (i === 3 || i === 9 ? 0.1 : -0.02))
    const joint = planned({ errors: halves, pulsesPerTurn: 12, turns: 60 })
    expect(codes(joint)).toEqual(['ring-joint'])
    expect(joint.findings[0]!.text).toContain('Gaps 3 and 9')
  })
})

/** Gaps 0 and N/2 wider than the rest by a joint, out of true by an eccentricity: e·cos at the middle of a gap, a chord of the wave. */
function halves(teeth: number, joint: number, eccentricity = 0): number[] {
  const chord = Math.sin(Math.PI / teeth) / (Math.PI / teeth)
  return Array.from({ length: teeth }, (_, gap) => {
    const odd = gap === 0 || gap === Math.floor(teeth / 2) ? joint : 0
    return odd - (2 * joint) / teeth + eccentricity * chord * Math.cos((2 * Math.PI * (gap + 0.5)) / teeth)
  })
}

describe('an independent generator: a ring cut in halves', () => {
  const RINGS = [4, 5, 6, 8, 12, 16, 24, 40, 60]
  const JOINTS = [0.02, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45]

  // Until 2026-11 an odd gap was mistaken for a missed and an extra pulse: 16 teeth, 120 turns, nothing lost, a joint of 0.2 of a pitch gave 478
  // missed and 478 extra, "tooth-loses-pulses" and a filter with a median; 136 of these 180 rings were misread.
  for (const eccentricity of [0, 0.01]) {
    test(`is recognized, without lost pulses, from 4 to 60 teeth and joints of 0.02 to 0.45, ${100 * eccentricity} % out of true`, () => {
      const misread: string[] = []
      for (const teeth of RINGS) {
        for (const joint of JOINTS) {
          const errors = halves(teeth, joint, eccentricity)
          const found = planned({ errors, pulsesPerTurn: teeth, turns: 120, edgeJitter: 0.002, start: teeth })
          const expected = eccentricity === 0 ? ['ring-joint'] : ['ring-joint', 'ring-eccentric']
          const gapsRight = errors.every(
            (error, gap) => Math.abs(found.ring!.gaps[gap]!.error - error) < 0.002,
          )
          const right =
            codes(found).join() === expected.join() &&
            found.findings[0]!.text.startsWith(`Gaps 0 and ${Math.floor(teeth / 2)}, `) &&
            found.missedTotal + found.extra.length === 0 &&
            found.recommended?.filter.median === undefined &&
            gapsRight &&
            Math.abs(found.ring!.eccentricity - eccentricity) < 0.001
          if (!right)
            misread.push(
              `${teeth} teeth, joint ${joint}: ${codes(found).join()}, ${found.missedTotal} missed`,
            )
        }
      }
      expect(misread).toEqual([])
    })
  }

  test('gives its missed and extra pulses as on an even ring, at their places', () => {
    for (const teeth of [4, 5, 8, 16, 60]) {
      for (const joint of [0.2, 0.45]) {
        const plan = {
          errors: halves(teeth, joint, 0.01),
          pulsesPerTurn: teeth,
          turns: 120,
          missed: 0.02,
          extra: 0.02,
        }
        const found = planned(plan)
        expect(indexes(found.missed), `${teeth} teeth, joint ${joint}`).toEqual(found.log.missed)
        expect(indexes(found.extra), `${teeth} teeth, joint ${joint}`).toEqual(found.log.extra)
        expect(codes(found)).toContain('ring-joint')
      }
    }
  })

  test('with a missing tooth loses that one and no other', () => {
    const found = planned({ errors: halves(8, 0.3), loses: (k) => k % 8 === 2 && k > 8, turns: 120 })
    expect(codes(found)).toEqual(['ring-joint', 'tooth-loses-pulses'])
    expect(indexes(found.missed)).toEqual(found.log.missed)
    // Until 2026-11 the gaps beside the missing tooth were assumed even: 0.2347 for the joint, and a pick-up that sways.
    for (const [gap, error] of halves(8, 0.3).entries())
      expect(Math.abs(found.ring!.gaps[gap]!.error - error), `gap ${gap}`).toBeLessThan(0.003)
    expect(found.jitter.nextCorrelation).toBeCloseTo(-0.5, 1)
  })

  test('with one half shifted has a wide and a narrow gap, and both widths are given', () => {
    const errors = Array.from({ length: 16 }, (_, gap) => (gap === 3 ? 0.2 : gap === 11 ? -0.2 : 0))
    const found = planned({ errors, pulsesPerTurn: 16, turns: 120, edgeJitter: 0 })
    expect(codes(found)).toEqual(['ring-joint'])
    expect(found.findings[0]!.text).toContain(
      'Gaps 3 and 11, half a turn apart, differ from the rest by 20 % and -20 %',
    )
  })

  test('with more teeth than matching by ring errors covers, or in a log too short to analyze the ring, loses no pulse either', () => {
    const large = planned({ errors: halves(100, 0.2), pulsesPerTurn: 100, turns: 60, edgeJitter: 0.002 })
    expect(codes(large)).toEqual(['ring-joint'])
    const short = planned({ errors: halves(60, 0.2), pulsesPerTurn: 60, turns: 4, edgeJitter: 0.002 })
    expect(short.missedTotal + short.extra.length).toBe(0)
  })

  test('a bent tooth, late at every turn, is an error of two gaps and no extra pulse', () => {
    // Until 2026-11: 16 teeth, 120 turns, one tooth off by a quarter of a pitch was about 240 false missed and extra pulses.
    const errors = Array.from({ length: 16 }, (_, gap) => (gap === 2 ? 0.25 : gap === 3 ? -0.25 : 0))
    const found = planned({ errors, pulsesPerTurn: 16, turns: 120 })
    expect(codes(found)).toEqual(['ring-errors'])
    expect(found.missedTotal + found.extra.length).toBe(0)
  })
})

describe('an independent generator: missed and extra pulses', () => {
  test('are all found at their places, up to 2 % of the pulses each, and nothing else', () => {
    for (const plan of [
      { missed: 0.02, extra: 0.02 },
      { missed: 0.02, extra: 0.02, errors: RING },
      { missed: 0.02, extra: 0.02, errors: RING, edgeJitter: 0.01, speedSwing: 0.1 },
      { missed: 0.02, pulsesPerTurn: 4, errors: [0.08, -0.08, 0.05, -0.05] },
      { extra: 0.02, pulsesPerTurn: 60, turns: 30, edgeJitter: 0.01 },
      { missed: 0.005, extra: 0.005, pulsesPerTurn: 1, turns: 2000 },
    ] as LogPlan[]) {
      for (let start = 1; start <= 5; start++) {
        const found = planned({ turns: 250, ...plan, start })
        expect(indexes(found.missed), JSON.stringify({ ...plan, start })).toEqual(found.log.missed)
        expect(indexes(found.extra), JSON.stringify({ ...plan, start })).toEqual(found.log.extra)
      }
    }
  })

  test('are given by item of the list, whether it holds times or periods', () => {
    const { timesUs, missed, extra } = plannedLog({ missed: 0.02, extra: 0.02 })
    const periods = timesUs.slice(1).map((time, i) => time - timesUs[i]!)
    const found = analyze(periods, { content: 'periods' })
    expect(indexes(found.missed)).toEqual(missed.map((item) => item - 1))
    expect(indexes(found.extra)).toEqual(extra.map((item) => item - 1))
  })

  test('consecutive ones are counted', () => {
    const found = planned({ loses: (k) => k >= 200 && k < 204 })
    expect(found.missed).toEqual([{ index: 200, count: 4, gap: 7 }])
    expect(found.missedTotal).toBe(4)
  })
})

describe('an independent generator: a sound log', () => {
  const LOGS = 400

  /** Maximum number of alarms in 400 logs at 1 % per log, exceeded in one case of ten thousand (binomial). */
  function maxAlarms(logs: number): number {
    let probability = 0.99 ** logs
    let total = probability
    let alarms = 0
    while (total < 0.9999) {
      probability *= ((logs - alarms) / (alarms + 1)) * (0.01 / 0.99)
      total += probability
      alarms++
    }
    return alarms
  }

  for (const plan of [
    { edgeJitter: 0.005 },
    { edgeJitter: 0.01, pulsesPerTurn: 4 },
    { edgeJitter: 0.0002, pulsesPerTurn: 12 },
    { edgeJitter: 0.01, speedSwing: 0.2 },
    { edgeJitter: 0, tickUs: 4 },
  ] as LogPlan[]) {
    test(`gives no alarm at a level of 1 %: ${JSON.stringify(plan)}`, () => {
      let alarms = 0
      for (let start = 1; start <= LOGS; start++) {
        const { findings } = planned({ turns: 40, ...plan, start, periodUs: 2000 + 1.37 * start })
        if (findings.length > 0) alarms++
      }
      expect(alarms).toBeLessThanOrEqual(maxAlarms(LOGS))
    })
  }
})

describe('an independent generator: what is at fault', () => {
  test('a missing tooth', () => {
    const found = planned({ loses: (k) => k % 8 === 5, turns: 60 })
    expect(codes(found)).toContain('tooth-loses-pulses')
    expect(found.causes).toEqual(['ring'])
    // Pulse 5 ends gap 4.
    expect(found.findings.find(({ code }) => code === 'tooth-loses-pulses')!.text).toContain('gap 4')
    expect(found.ring!.gaps.map(({ missed }) => missed > 0)).toEqual([0, 0, 0, 0, 1, 0, 0, 0].map(Boolean))
  })

  test('a burr that gives a second pulse', () => {
    const found = planned({ adds: (k) => k % 8 === 3 && k % 24 !== 3, turns: 60 })
    expect(codes(found)).toEqual(['tooth-adds-pulses'])
    expect(found.causes).toEqual(['ring'])
  })

  test('electrical noise: extra pulses at no particular tooth or time', () => {
    const found = planned({ extra: 0.02, turns: 300 })
    expect(codes(found)).toEqual(['extra-at-random'])
    expect(found.causes).toEqual(['electrical'])
    expect(found.recommended!.filter.median).toBe(5)
  })

  test('electrical noise: edges that jitter', () => {
    const found = planned({ edgeJitter: 0.04, turns: 100 })
    expect(codes(found)).toEqual(['edges-jitter'])
    // Each period has two edges.
    expect(found.jitter.share).toBeCloseTo(0.04 * Math.SQRT2, 2)
    expect(found.jitter.edgeS).toBeCloseTo(0.04 * 2507.3e-6, 5)
    expect(found.jitter.nextCorrelation).toBeCloseTo(-0.5, 1)
  })

  test('a filter for independently jittering edges: assumed white, its noise was five times too large (until 2026-11)', () => {
    // Edges at 10 ms within 200 us: period errors are e(k+1) - e(k), 2.83 % rms with a correlation of -1/2.
    const normal = noise(5)
    const edges = Array.from({ length: 20_000 }, (_, k) => 10_000 * k + 200 * normal())
    const { recommended } = analyze(edges, { pulsesPerTurn: 1 })
    // a/√(2 - a) of 2.83 % is 0.53 % at 1/4 and 0.26 % at 1/8; 0.5 % is wanted.
    expect(recommended?.filter).toEqual({ factor: 1 / 8 })
    expect(recommended!.noiseAfterPercent / 100).toBeCloseTo(
      (0.02 * Math.SQRT2) / 8 / Math.sqrt(2 - 1 / 8),
      4,
    )
    let shown = 1
    let squares = 0
    for (let k = 1; k < edges.length; k++) {
      shown += ((edges[k]! - edges[k - 1]!) / 10_000 - shown) / 8
      squares += (shown - 1) ** 2
    }
    expect(
      Math.abs(Math.sqrt(squares / edges.length) / (recommended!.noiseAfterPercent / 100) - 1),
    ).toBeLessThan(0.05)
  })

  test('a loose bracket: pulses missed in bursts', () => {
    const uniform = chance(9)
    const found = planned({ loses: (k) => k % 700 < 60 && k > 100 && uniform() < 0.15, turns: 400 })
    expect(codes(found)).toEqual(['events-in-bursts'])
    expect(found.causes).toEqual(['bracket'])
  })

  test('a pick-up that sways independently of the ring', () => {
    // 61 Hz, as an engine shakes; 400 pulses a second. A sway much slower than a turn is no different from a change of the speed.
    const found = planned({ sways: (t) => 0.02 * Math.sin(2 * Math.PI * 61 * t), turns: 200 })
    expect(codes(found)).toContain('speed-or-bracket-sways')
    expect(found.causes).toEqual(['bracket'])
  })

  test('a wrong number of pulses per turn', () => {
    const log = plannedLog({ errors: RING, turns: 200 })
    for (const wrong of [4, 6, 7]) {
      const found = analyze(log.timesUs, { pulsesPerTurn: wrong })
      expect(codes(found), `${wrong} in place of 8`).toContain('pulses-per-turn-uncertain')
      expect(found.findings.find(({ code }) => code === 'pulses-per-turn-uncertain')!.text).toContain(
        'every 8 pulses',
      )
    }
    expect(codes(analyze(log.timesUs))).not.toContain('pulses-per-turn-uncertain')
  })

  test('a timer too coarse for the speed', () => {
    const found = planned({ tickUs: 64, edgeJitter: 0.001 })
    expect(found.resolutionS).toBeCloseTo(64e-6, 12)
    expect(codes(found)).toContain('timer-coarse')
  })
})

describe('stops', () => {
  const first = plannedLog({ errors: RING, turns: 60, edgeJitter: 0.002 })
  const second = plannedLog({ errors: RING, turns: 40, edgeJitter: 0.002, start: 4 })

  test('the ring is counted anew after a stop, and its phase is found again', () => {
    // The second drive starts at gap 3 of the ring.
    const offset = first.timesUs.at(-1)! + 30e6
    const rest = second.timesUs.slice(3).map((time) => time - second.timesUs[3]! + offset)
    const found = analyze([...first.timesUs, ...rest])
    expect(found.runs.map(({ phase }) => phase)).toEqual([0, 3])
    expect(found.runs[1]!.firstIndex).toBe(first.timesUs.length)
    expect(found.missedTotal + found.extra.length).toBe(0)
    expect(found.ring!.gaps[0]!.passes).toBeGreaterThan(90)
  })
})

describe('the timer', () => {
  test('a 16-bit counter of 4 µs counts is followed through its wraps', () => {
    const log = plannedLog({ turns: 100, tickUs: 4 })
    const counts = log.timesUs.map((time) => (time / 4) % 65_536)
    const found = analyze(counts, { unitS: 4e-6 })
    expect(found.wrapS).toBeCloseTo(65_536 * 4e-6, 12)
    expect(found.wraps).toBe(Math.floor(log.timesUs.at(-1)! / 4 / 65_536))
    expect(found.durationS).toBeCloseTo((log.timesUs.at(-1)! - log.timesUs[0]!) * 1e-6, 9)
    expect(found.causes).toEqual([])
  })

  test('speed is from the mean over whole turns: 2500 µs at 4 pulses per meter are 100 m/s', () => {
    const [series] = analyze(plannedLog({ periodUs: 2500, edgeJitter: 0, errors: RING, turns: 50 }).timesUs, {
      pulsesPerM: 4,
    }).series
    for (const [, kmh] of series!.points) expect(kmh / 3.6).toBeCloseTo(100, 1)
  })
})

describe('the simulator as a source of logs', () => {
  test('its ring, missed and extra pulses are found again', () => {
    const random = generator(11)
    const gapErrors = ringGapErrors({ pulsesPerTurn: 10, rms: 0.03, eccentricity: 0.01 }, random)
    const train = pulseTrain(
      { pulsesPerM: 4, gapErrors, missed: 0.01, extra: 0.01, edgeJitterS: 5e-6 },
      stretchesOf([
        { tS: 0, speedMPerS: 20 },
        { tS: 60, speedMPerS: 30 },
      ]),
      random,
    )
    const found = analyze(train.timesS, { unitS: 1, pulsesPerTurn: 10 })
    for (const [gap, error] of gapErrors.entries()) {
      expect(Math.abs(found.ring!.gaps[gap]!.error - error)).toBeLessThan(
        0.1 * Math.max(0.01, Math.abs(error)),
      )
    }
    // An extra pulse where one is missed looks like a pulse, and near a pulse like that pulse: a few in a hundred.
    const near = (list: number[], item: number) => list.some((one) => Math.abs(one - item) <= 1)
    const foundExtra = indexes(found.extra)
    const unseen = [...train.extra].filter((item) => !near(foundExtra, item)).length
    expect(train.extra.length).toBeGreaterThan(40)
    expect(unseen).toBeLessThanOrEqual(0.03 * train.extra.length)
    expect(found.missedTotal).toBeGreaterThanOrEqual(0.97 * train.missed.length)
    expect(found.missedTotal).toBeLessThanOrEqual(1.03 * train.missed.length)
  })
})

describe('chance', () => {
  test('concentrationChance is never below the binomial chance it bounds', () => {
    const binomialTail = (k: number, n: number, p: number) => {
      let total = 0
      let term = (1 - p) ** n
      for (let i = 0; i <= n; i++) {
        if (i >= k) total += term
        term *= ((n - i) / (i + 1)) * (p / (1 - p))
      }
      return total
    }
    for (const [k, n, places] of [
      [5, 8, 8],
      [9, 20, 4],
      [30, 100, 8],
      [3, 3, 60],
    ] as const) {
      const exact = binomialTail(k, n, 1 / places)
      expect(concentrationChance(k, n, places)).toBeGreaterThanOrEqual(Math.min(1, exact))
    }
    expect(concentrationChance(2, 16, 8)).toBe(1)
  })

  test('burstChance calls uniformly scattered events bursts about as often as it says', () => {
    let small = 0
    for (let start = 1; start <= 1000; start++) {
      const uniform = chance(start)
      const places = Array.from({ length: 100 }, () => uniform() * 1000)
      if (burstChance(places, 1000) < 0.05) small++
    }
    // 50 of 1000, five standard deviations of 6.9
    expect(small).toBeGreaterThan(15)
    expect(small).toBeLessThan(85)
  })
})

describe('refusals', () => {
  test('fifteen pulses; the minimum is sixteen', () => {
    expect(() => analyze(Array.from({ length: 15 }, (_, i) => i))).toThrow(
      expect.objectContaining({ code: 'too-few-readings' }),
    )
  })

  test('a log without a steady stretch, and one with a backward step', () => {
    const uniform = chance(3)
    let time = 0
    const wild = Array.from({ length: 200 }, () => {
      time += 1000 * 10 ** (3 * uniform())
      return time
    })
    expect(() => analyze(wild)).toThrow(expect.objectContaining({ code: 'log-not-steady' }))
    const back = Array.from({ length: 40 }, (_, i) => (i === 20 ? 100.5 : 1000 * i))
    expect(() => analyze(back)).toThrow(
      expect.objectContaining({
        code: 'times-not-increasing',
        context: expect.objectContaining({ pointer: '/times/20' }),
      }),
    )
  })
})
