import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  awgDiameterM,
  conductorTemperatureK,
  largestCurrentA,
} from '../../../src/domain/electrics/conductor.js'
import { wire } from '../../../src/domain/electrics/wire.js'
import type { WireRequest, WireSize } from '../../../src/domain/electrics/wire-setting.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const K = 273.15

/** All inputs given, so that only the formula is tested. */
const plainWire: WireRequest = {
  supplyV: exact(12),
  currentA: exact(2),
  lengthM: exact(4),
  size: { awg: 18 },
  returnPath: 'wire',
  contactResistanceOhm: exact(0),
  sourceResistanceOhm: exact(0),
  ambientK: exact(K + 20),
  insulation: { thicknessM: exact(0.5e-3), limitK: exact(K + 85) },
  heatTransferWPerM2K: exact(1000),
}

// Found 2026-11: `/body`, which is no field of the request.
test('the assumed resistance of the body is named by the field that replaces it', () => {
  const body = { ...plainWire, allowedDropPercent: 3, returnPath: 'body' } as const
  expect(wire(body).assumptions).toMatchObject([
    { field: '/bodyResistance', value: '0.01 ohm, from 0 to 0.02' },
  ])
  expect(wire({ ...body, bodyResistanceOhm: exact(0.01) }).assumptions).toEqual([])
})

describe('ASTM B258, table of diameters in inches', () => {
  test.each([
    [-3, 0.46],
    [0, 0.3249],
    [10, 0.1019],
    [18, 0.0403],
    [24, 0.0201],
    [36, 0.005],
    [40, 0.0031],
  ])('gauge %i is %f in', (awg, inches) => {
    expect(awgDiameterM(awg) / 0.0254).toBeCloseTo(inches, 4)
  })
  test('six gauges halve the diameter, within 0.6 %: 92^(6/39) = 2.0050', () => {
    expect(awgDiameterM(12) / awgDiameterM(18)).toBeCloseTo(92 ** (6 / 39), 12)
  })
  test.each([-4, 41])('gauge %i is outside the table', (awg) => {
    expect(() => awgDiameterM(awg)).toThrow(expect.objectContaining({ code: 'out-of-range' }))
  })
})

describe('annealed copper standard, 0.017241 ohm mm2/m at 20 °C', () => {
  const at20 = (size: WireSize) => wire({ ...plainWire, size }).resistancePerLengthAt20OhmPerM.value

  test('1 m of 1 mm2 has 0.017241 ohm', () => {
    expect(at20({ areaM2: exact(1e-6) })).toBeCloseTo(0.017241, 12)
  })
  test.each([
    // Handbook tables of annealed copper at 20 °C, ohm per 1000 ft: 0.9989, 6.385, 25.67.
    [10, 0.9989],
    [18, 6.385],
    [24, 25.67],
  ])('gauge %i has %f ohm per 1000 ft', (awg, ohm) => {
    expect(at20({ awg }) * 304.8).toBeCloseTo(ohm, 2)
  })
})

describe('conductorTemperatureK()', () => {
  test('balances heat and loss at the temperature it gives', () => {
    const [current, ohm, conductance, around] = [9, 0.021, 0.06, K + 40]
    const t = conductorTemperatureK(exact(current), exact(ohm), exact(conductance), exact(around)).value
    const heat = current ** 2 * ohm * (1 + 0.00393 * (t - K - 20))
    expect(heat).toBeCloseTo(conductance * (t - around), 9)
  })
  test('is the steady state of the heat balance stepped through time', () => {
    let t = K + 40
    for (let i = 0; i < 20_000; i++) {
      t += 0.1 * (81 * 0.021 * (1 + 0.00393 * (t - K - 20)) - 0.06 * (t - K - 40))
    }
    const closed = conductorTemperatureK(exact(9), exact(0.021), exact(0.06), exact(K + 40)).value
    expect(closed).toBeCloseTo(t, 6)
  })
  test('has no solution above I = sqrt(G/(alpha R20)): heat generation grows faster than heat transfer', () => {
    const most = Math.sqrt(0.06 / (0.00393 * 0.021))
    expect(() =>
      conductorTemperatureK(exact(most * 1.001), exact(0.021), exact(0.06), exact(K + 40)),
    ).toThrow(expect.objectContaining({ code: 'wire-overloaded' }))
  })
  test('the largest current heats the conductor exactly to the limit', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1e-3, max: 0.5, noNaN: true }),
        fc.double({ min: 1e-2, max: 2, noNaN: true }),
        fc.double({ min: -40, max: 80, noNaN: true }),
        (ohm, conductance, celsius) => {
          const around = exact(K + celsius)
          const limit = exact(K + 85)
          const current = largestCurrentA(exact(ohm), exact(conductance), around, limit)
          const t = conductorTemperatureK(current, exact(ohm), exact(conductance), around)
          expect(t.value).toBeCloseTo(K + 85, 6)
        },
      ),
    )
  })
  test('surroundings as hot as the limit of the insulation allow no current', () => {
    expect(() => largestCurrentA(exact(0.02), exact(0.05), exact(K + 85), exact(K + 85))).toThrow(
      expect.objectContaining({ code: 'limits-crossed' }),
    )
  })
})

describe('wire()', () => {
  test('cold and without contacts the drop is 2 L R I', () => {
    const result = wire(plainWire)
    // 2 x 4 m x 0.020948 ohm/m x 2 A = 0.33517 V; held at 20 °C by the large heat transfer, to 0.02 %.
    expect(result.dropV.value).toBeCloseTo(0.3352, 3)
    expect(result.dropPercent.value).toBeCloseTo((100 * 0.3352) / 12, 2)
    expect(result.heatW.value).toBeCloseTo(2 * result.dropV.value, 12)
    expect(result.dropWithinAllowed).toBe('conforms')
  })

  test('the body as return path halves the wire and adds its own resistance', () => {
    const there = wire(plainWire)
    const body = wire({ ...plainWire, returnPath: 'body', bodyResistanceOhm: exact(0.02) })
    expect(body.loopResistanceOhm.value).toBeCloseTo(there.loopResistanceOhm.value / 2 + 0.02, 12)
    expect(body.notes.map(({ code }) => code)).toContain('body-return')
  })

  test('always carries the cautions on the code and the battery', () => {
    const cautions = wire(plainWire)
      .notes.filter(({ level }) => level === 'caution')
      .map(({ code }) => code)
    expect(cautions).toEqual(expect.arrayContaining(['check-electrical-code', 'disconnect-battery']))
  })

  test('2 A needs a 3 A fuse: 2.67 A at 75 %', () => {
    expect(wire(plainWire).minFuseA).toBe(3)
  })

  test('the largest fuse is at most the current capacity of the wire minus its uncertainty', () => {
    const result = wire({
      ...plainWire,
      heatTransferWPerM2K: uncertain(10, 'heat', 2.5),
      ambientK: exact(K + 40),
    })
    const floor = result.largestCurrentA.value - plusMinus(result.largestCurrentA)
    expect(result.maxFuseA).toBeLessThanOrEqual(floor)
  })

  test('a long thin wire may not open its fuse', () => {
    // 2 x 150 m of gauge 18 have 6.3 ohm: 1.9 A at 12 V, less than twice a 1 A fuse.
    const result = wire({ ...plainWire, lengthM: exact(150), currentA: exact(0.5), fuseA: 1 })
    expect(result.fuse).toMatchObject({ carriesLoad: true, opensOnShort: false })
    expect(result.notes.map(({ code }) => code)).toContain('short-may-not-open-fuse')
  })

  test('a fuse above the current capacity of the wire does not protect it', () => {
    const result = wire({ ...plainWire, heatTransferWPerM2K: exact(10), fuseA: 30 })
    expect(result.fuse?.protectsWire).toBe('does-not-conform')
  })

  test('marks the sizes that suffice: every size thicker than one that suffices suffices too', () => {
    const { sizes } = wire({ ...plainWire, currentA: exact(6), heatTransferWPerM2K: exact(10) })
    const first = sizes.findIndex(({ suits }) => suits)
    expect(first).toBeGreaterThan(0)
    expect(sizes.slice(first).every(({ suits }) => suits)).toBe(true)
    const drops = sizes.flatMap(({ dropPercent }) => dropPercent ?? [])
    expect(drops).toEqual([...drops].sort((a, b) => b - a))
  })

  test('heat per length is I² R′, and the load voltage is the supply minus the drop', () => {
    const result = wire(plainWire)
    expect(result.heatPerLengthWPerM.value).toBeCloseTo(4 * result.resistancePerLengthOhmPerM.value, 12)
    expect(result.heatPerLengthWPerM.value * 8).toBeCloseTo(result.heatW.value, 12)
    expect(result.loadVoltageV.value).toBeCloseTo(12 - result.dropV.value, 12)
  })

  test('the conductor is steady where I² R′ = h π (d + 2 t) (T - Ta)', () => {
    const result = wire({ ...plainWire, currentA: exact(8), heatTransferWPerM2K: exact(10) })
    const outside = awgDiameterM(18) + 2 * 0.5e-3
    const leaves = 10 * Math.PI * outside * (result.conductorTemperatureK.value - (K + 20))
    expect(result.heatPerLengthWPerM.value).toBeCloseTo(leaves, 9)
  })

  test('a short circuit is limited by the wire, the contacts and the source together', () => {
    const result = wire({ ...plainWire, contactResistanceOhm: exact(0.03), sourceResistanceOhm: exact(0.05) })
    expect(result.shortCircuitCurrentA.value).toBeCloseTo(
      12 / (8 * result.resistancePerLengthOhmPerM.value + 0.03 + 0.05),
      9,
    )
  })

  test('a short circuit is limited by hot copper: at 50 °C it was computed for 20 °C, 12 % too much (2026-11)', () => {
    // No current to speak of, so that the copper is as warm as its surroundings. Gauge 18: 0.017241 ohm mm2/m over π/4 of 1.023687 mm
    // squared, times 1 + 0.00393 x 30 K; 2 x 4 m: 12/(0.167584 x 1.1179) = 64.05 A. Was 12/0.167584 = 71.61 A.
    const result = wire({ ...plainWire, currentA: exact(1e-3), ambientK: exact(K + 50) })
    const at20 = 8 * (0.017241 / ((Math.PI / 4) * 1.023687 ** 2))
    expect(12 / at20).toBeCloseTo(71.61, 2)
    expect(result.shortCircuitCurrentA.value).toBeCloseTo(12 / (at20 * 1.1179), 3)
    expect(result.shortCircuitCurrentA.value).toBeCloseTo(64.05, 2)
  })

  test('a fuse opens on a short circuit only if the hot wire is proven to pass twice the rating', () => {
    // 64.05 A at 50 °C: twice 35 A is 70, which the 71.61 A of 20 °C passed.
    const fuse = (ratingA: number) =>
      wire({ ...plainWire, currentA: exact(1e-3), ambientK: exact(K + 50), fuseA: ratingA }).fuse
    expect(fuse(35)?.opensOnShort).toBe(false)
    expect(fuse(25)?.opensOnShort).toBe(true)
    // A make from -2 to +8 %: u = √(0.1²/12 + 0.03²) = 4.16 % of it, at least 58.7 A, less than twice 30 A.
    expect(fuse(30)?.opensOnShort).toBe(false)
  })

  test.each([
    // Gauge 18 at 10 W/(m2 K) in 50 °C carries 10 x π x 2.023687 mm x 35 K = 2.2252 W/m over 20.948 mΩ/m x 1.25545: 9.20 A.
    [15, ['fuse-above-wire']],
    [7.5, []],
    [1, ['fuse-below-load']],
  ])(
    'a fuse of %d A on a wire good for 9.2 A and a load of 2 A: %j; it was a bare result (2026-11)',
    (fuseA, codes) => {
      const result = wire({
        ...plainWire,
        ambientK: exact(K + 50),
        heatTransferWPerM2K: exact(10),
        fuseA,
      })
      expect(result.largestCurrentA.value).toBeCloseTo(9.2, 2)
      const about = result.notes.filter(({ code }) => code.startsWith('fuse-'))
      expect(about.map(({ code }) => code)).toEqual(codes)
      expect(about.every(({ level }) => level === 'caution')).toBe(true)
      // The fuse that the caution names protects the wire.
      const named = Number(/at most ([\d.]+) A/.exec(about[0]?.text ?? '')?.[1] ?? 7.5)
      expect(
        wire({ ...plainWire, ambientK: exact(K + 50), heatTransferWPerM2K: exact(10), fuseA: named }).fuse,
      ).toMatchObject({ protectsWire: 'conforms' })
    },
  )

  test('warns when the insulation is not proven to hold, and when no fuse fits', () => {
    const codes = (currentA: number) =>
      wire({
        ...plainWire,
        currentA: exact(currentA),
        lengthM: exact(1),
        heatTransferWPerM2K: exact(10),
      }).notes.map(({ code }) => code)
    // At 10 W/(m2 K) gauge 18 carries about 13 A in surroundings of 20 °C.
    expect(codes(2)).not.toContain('wire-too-hot')
    expect(codes(2)).not.toContain('no-fuse-fits')
    expect(codes(18)).toContain('wire-too-hot')
    expect(codes(11)).toContain('no-fuse-fits')
  })

  test('refuses a load that leaves no voltage after the wire', () => {
    expect(() => wire({ ...plainWire, lengthM: exact(300) })).toThrow(
      expect.objectContaining({ code: 'out-of-range' }),
    )
  })

  test('propagates the uncertainty of length and current into the drop', () => {
    const result = wire({
      ...plainWire,
      lengthM: uncertain(4, 'wire: length', 0.1),
      currentA: uncertain(2, 'current', 0.05),
    })
    // 2.5 % each in quadrature, and the make of the wire on top.
    expect(plusMinus(result.dropV) / result.dropV.value).toBeGreaterThan(2 * Math.hypot(0.025, 0.025) * 0.99)
    expect(result.budget.map(({ input }) => input)).toEqual(
      expect.arrayContaining(['wire: length', 'current', 'wire: stranding and make']),
    )
  })
})
