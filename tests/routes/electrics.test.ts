import { afterAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'
import { faultsOf, readOpenApi } from '../support/contract.js'

const app = await testApp()
afterAll(() => app.close())
const electrics = (operation: string, body: unknown) => post(app, `/v1/electrics/${operation}`, body)

describe('check values, in the units of the contract', () => {
  test('pull-up: 5 V, 0.4 V, 3 mA, 300 ns, 200 pF is 1533.33 to 1770.33 ohm (UM10204, 7.1)', async () => {
    const { status, body } = await electrics('pull-up', {
      tolerancePercent: 1,
      supply: { v: 5 },
      lowLevel: { mv: 400 },
      sinkCurrent: { ma: 3 },
      riseTime: { us: 0.3 },
      bus: { capacitance: { nf: 0.2 } },
    })
    expect(status).toBe(200)
    expect(body.min.ohm).toBeCloseTo(1533.33, 2)
    expect(body.max.ohm).toBeCloseTo(1770.33, 2)
    expect(body.assumptions).toEqual([])
  })

  test('supply: 5 V, 0.5 A, 85 %, 12 V draws 0.245098 A', async () => {
    const { body } = await electrics('supply', {
      system: '12-volt',
      loads: [{ name: 'display', current: { ma: 500 }, feed: 'converter' }],
      converter: { kind: 'step-down', output: { v: 5 }, efficiencyPercent: 85 },
    })
    expect(body.points.map(({ at }: { at: string }) => at)).toEqual(['lowest', 'normal', 'highest'])
    expect(body.points[1].current.a).toBeCloseTo(0.245098, 6)
    expect(body.points[1].current.plusMinus).toBeUndefined()
  })

  test('wire: gauge 18 is 1.023687 mm and 20.948 ohm/km (ASTM B258, copper standard)', async () => {
    const { body } = await electrics('wire', {
      supply: { v: 12 },
      current: { a: 1 },
      length: { ft: 10 },
      size: { awg: 18 },
    })
    expect(body.diameter.mm).toBeCloseTo(1.023687, 6)
    expect(body.resistancePerLengthAt20.ohmPerKm).toBeCloseTo(20.948, 3)
    expect(body.drop.plusMinus.v).toBeGreaterThan(0)
  })

  test('threshold: 5 V, 10k, 10k, 100k is 2.619048 and 2.380952 V', async () => {
    const { body } = await electrics('threshold', {
      supply: { v: 5 },
      resistors: { toSupply: { kohm: 10 }, toGround: { kohm: 10 }, fromOutput: { kohm: 100 } },
    })
    expect(body.upper.v).toBeCloseTo(2.619048, 6)
    expect(body.lower.v).toBeCloseTo(2.380952, 6)
  })

  test('enclosure: a dashboard in sun is 69.4 °C, 156.92 °F', async () => {
    const { body } = await electrics('enclosure', { place: 'dashboard-in-sun' })
    expect(body.boxTemperature.c).toBeCloseTo(69.4, 9)
    expect(body.boxTemperature.f).toBeCloseTo(69.4 * 1.8 + 32, 9)
    expect(body.sources).toContain('parked-car-temperatures')
  })

  test('enclosure: heat in still air, range and ± of rise and box in the units of the answer', async () => {
    const { body } = await electrics('enclosure', {
      ambient: { c: 40 },
      power: { w: 1 },
      surface: { cm2: 200 },
    })
    // 1 W/(0.02 m² h), h from 5 to 15 W/(m² K), within Φ(±2) of it: 3.3847 to 9.5648 K.
    expect(body.riseRange.min.k).toBeCloseTo(3.3847, 4)
    expect(body.riseRange.max.k).toBeCloseTo(9.5648, 4)
    expect(body.rise).toEqual({ k: 5, plusMinus: { k: expect.closeTo(4.5648, 4) } })
    expect(body.boxTemperatureRange.max.c).toBeCloseTo(49.5648, 4)
    expect(body.boxTemperatureRange.max.f).toBeCloseTo(49.5648 * 1.8 + 32, 3)
    expect(body.boxTemperature.plusMinus.k).toBeUndefined()
    expect(body.boxTemperature.plusMinus.c).toBeCloseTo(4.5648, 4)
    expect(body.materials[0].marginRange.min.k).toBeLessThan(body.materials[0].margin.k)
  })

  test('air-gap: 40 teeth on 100 mm have module 2.5 mm', async () => {
    const { body } = await electrics('air-gap', {
      sensor: 'active',
      gap: { mm: 0.8 },
      ring: { teeth: 40, outsideDiameter: { mm: 100 } },
    })
    expect(body.module.mm).toBeCloseTo(2.5, 12)
    expect(body.pitch.mm).toBeCloseTo(2.5 * Math.PI, 12)
  })
})

describe('no given field is ignored', () => {
  const resistors = { toSupply: { kohm: 10 }, toGround: { kohm: 10 }, fromOutput: { kohm: 100 } }
  const speed = { kmh: 100 }
  const linear = { kind: 'linear', output: { v: 5 }, efficiencyPercent: 40 }
  const load = { name: 'display', current: { a: 0.1 }, feed: 'converter' }
  const rising = {
    amplitude: { v: 1 },
    at: { kmh: 20 },
    pulses: { perKm: 4000 },
    amplitudeAtTopSpeed: { v: 8 },
  }
  const cable = { supply: { v: 12 }, current: { a: 1 }, length: { m: 1 }, size: { awg: 18 } }
  test.each([
    ['threshold', { supply: { v: 5 }, resistors, hysteresis: { v: 0.2 } }, '#/hysteresis'],
    ['threshold', { supply: { v: 5 }, resistors, tolerancePercent: 1 }, '#/tolerancePercent'],
    ['wire', { ...cable, bodyResistance: { ohm: 0.01 } }, '#/bodyResistance'],
    ['supply', { system: '12-volt', loads: [load], converter: linear }, '#/converter/efficiencyPercent'],
    ['enclosure', { place: 'dashboard-in-sun', ambient: { c: 40 } }, '#/place'],
  ])('%s refuses fields that exclude each other (%#)', async (operation, request, pointer) => {
    const { status, body } = await electrics(operation, request)
    expect(status).toBe(422)
    expect(body).toMatchObject({ code: 'fields-exclude-each-other', errors: [{ pointer }] })
  })

  test.each([
    ['threshold', { supply: { v: 5 }, topSpeed: speed }, '#/sensor'],
    ['threshold', { supply: { v: 5 }, lowestSpeed: speed }, '#/sensor'],
    ['enclosure', { place: 'dashboard-in-sun', surface: { cm2: 100 } }, '#/power'],
    ['enclosure', { place: 'dashboard-in-sun', power: { w: 1 } }, '#/surface'],
    ['supply', { system: '12-volt', loads: [load] }, '#/converter'],
    ['threshold', { supply: { v: 5 }, sensor: rising }, '#/topSpeed'],
    ['enclosure', {}, '#/ambient'],
  ])('%s refuses a field without the one that it belongs to (%#)', async (operation, request, pointer) => {
    const { status, body } = await electrics(operation, request)
    expect(status).toBe(422)
    expect(body).toMatchObject({ code: 'needs-another-field', errors: [{ pointer }] })
  })

  // Until 2026-11 only the code knew these rules: a client that checked its requests by the contract sent them all the same.
  const document = readOpenApi()
  test.each([
    ['ThresholdRequest', { supply: { v: 5 }, resistors, hysteresis: { v: 0.2 } }],
    ['ThresholdRequest', { supply: { v: 5 }, topSpeed: speed }],
    ['WireRequest', { ...cable, bodyResistance: { ohm: 0.01 } }],
    ['SupplyRequest', { system: '12-volt', loads: [load], converter: linear }],
    ['EnclosureRequest', { place: 'dashboard-in-sun', ambient: { c: 40 } }],
    ['EnclosureRequest', { place: 'dashboard-in-sun', surface: { cm2: 100 } }],
    ['EnclosureRequest', { place: 'dashboard-in-sun', power: { w: 1 } }],
    ['EnclosureRequest', {}],
    ['SupplyRequest', { system: '12-volt', loads: [load] }],
    ['ThresholdRequest', { supply: { v: 5 }, sensor: rising }],
  ])('the contract says so too: %s (%#)', (name, request) => {
    expect(faultsOf(document.components.schemas[name]!, request)).not.toEqual([])
  })

  test.each([
    ['pull-up', { supply: { v: 5 }, bus: { capacitance: { pf: 100 }, length: { m: 1 } } }],
    [
      'air-gap',
      {
        sensor: 'active',
        gap: { mm: 1 },
        ring: { teeth: 8, module: { mm: 3 }, outsideDiameter: { mm: 24 } },
      },
    ],
    ['wire', { ...cable, size: { awg: 18, area: { mm2: 1 } } }],
  ])('%s refuses two fields for the same quantity', async (operation, request) => {
    expect((await electrics(operation, request)).status).toBe(400)
  })
})

describe('impossible computations name the field and what to give', () => {
  test('a wire that never reaches a steady temperature', async () => {
    const { status, body } = await electrics('wire', {
      supply: { v: 12 },
      current: { a: 60 },
      length: { m: 1 },
      size: { awg: 22 },
    })
    expect(status).toBe(422)
    expect(body.code).toBe('wire-overloaded')
    expect(body.errors[0].pointer).toBe('#/current')
    expect(body.detail).toMatch(/at most [\d.]+ A/)
  })
  test('surroundings hotter than the limit of the insulation', async () => {
    const { body } = await electrics('wire', {
      supply: { v: 12 },
      current: { a: 1 },
      length: { m: 1 },
      size: { awg: 18 },
      ambient: { c: 90 },
    })
    expect(body).toMatchObject({ code: 'limits-crossed', errors: [{ pointer: '#/ambient' }] })
  })
})
