import { afterAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'
import { faultsOf, readOpenApi } from '../support/contract.js'

const app = await testApp()
afterAll(() => app.close())
const compare = (body: unknown) => post(app, '/v1/pick-ups/comparison', body)
const car = { tire: { rollingCircumference: { mm: 1885 } }, speeds: [{ mph: 60 }] }

describe('POST /v1/pick-ups/comparison', () => {
  test('8 pulses a turn on 1885 mm are 4244.03 per km (EU 165/2014), and 60 mph are 113.8 Hz', async () => {
    const { status, body } = await compare({ ...car, options: [{ kind: 'shaft-ring', pulsesPerTurn: 8 }] })
    expect(status).toBe(200)
    const [option] = body.options
    expect(option.pulses.perKm).toBeCloseTo(4244.03, 2)
    expect(option.table[0].frequency.hz).toBeCloseTo((4244.0318 * 96.56064) / 3600, 3)
    expect(option.table[0].speed.mph).toBeCloseTo(60, 12)
    expect(option.distancePerPulse.mm).toBeCloseTo(1885 / 8, 9)
  })

  test('answers with the options in the requested order, under the given names', async () => {
    const { body } = await compare({
      ...car,
      finalDrive: 3.7,
      options: [
        { kind: 'satellite', rate: { hz: 1 } },
        { kind: 'gearbox', name: 'with the 7/20 gears', pulsesPerTurn: 8, driveRatio: 0.35 },
      ],
    })
    expect(body.options.map(({ name }: { name: string }) => name)).toEqual([
      'satellite',
      'with the 7/20 gears',
    ])
  })

  test('every assumption names a field of the request', async () => {
    const { body } = await compare({ ...car, options: [{ kind: 'satellite', rate: { hz: 5 } }] })
    const fields: string[] = body.options[0].assumptions.map(({ field }: { field: string }) => field)
    expect(fields).toEqual([
      '/options/0/axisUncertainty',
      '/options/0/latency',
      '/options/0/coldStart',
      '/options/0/warmStart',
      '/options/0/steepestSlopePercent',
    ])
    const given = {
      kind: 'satellite',
      rate: { hz: 5 },
      axisUncertainty: { kmh: 1 },
      latency: { ms: 200 },
      coldStart: { s: 30 },
      warmStart: { s: 2 },
      steepestSlopePercent: 0,
    }
    const filled = await compare({ ...car, options: [given] })
    expect(filled.status).toBe(200)
    expect(filled.body.options[0].assumptions).toEqual([])
  })

  test('a driven head with all fields leaves no assumption', async () => {
    const { status, body } = await compare({
      ...car,
      maxSlipPercent: 0.5,
      trackWidth: { mm: 1300 },
      bendRadii: [{ m: 12 }],
      display: { update: { ms: 250 }, step: { mph: 1 }, timerTick: { us: 4 }, zeroTimeout: { s: 0.8 } },
      options: [
        {
          kind: 'driven-head',
          signal: {
            kind: 'shaft-ring',
            pulsesPerTurn: 16,
            axle: 'free',
            wheels: 'both',
            pitchErrorPercent: 2,
            eccentricityPercent: 0.2,
          },
          head: { constant: { perMile: 1000 }, uncertaintyPercent: 3, readingUncertainty: { mph: 1 } },
          motor: { step: { rpm: 2 }, lowest: { rpm: 40 }, lag: { ms: 150 }, update: { ms: 50 } },
        },
      ],
    })
    expect(status).toBe(200)
    expect(body.assumptions).toEqual([])
    expect(body.options[0].assumptions).toEqual([])
    expect(body.options[0].table[0].headSpeed.rpm).toBeCloseTo(1000, 9)
  })

  test('reports the missing final drive, an invalid tire and an unknown kind', async () => {
    const propeller = { kind: 'propeller-shaft', pulsesPerTurn: 4 }
    const missing = await compare({ ...car, options: [propeller] })
    expect(missing.body).toMatchObject({
      status: 422,
      code: 'needs-another-field',
      errors: [{ pointer: '#/finalDrive' }],
    })
    // Until 2026-11 the contract did not state the rule, and clients sent what is refused.
    const schema = readOpenApi().components.schemas.PickUpComparisonRequest!
    const driven = { kind: 'driven-head', signal: propeller, head: { constant: { perMile: 1000 } } }
    for (const option of [propeller, driven])
      expect(faultsOf(schema, { ...car, options: [option] }).join()).toContain('finalDrive')
    expect(faultsOf(schema, { ...car, finalDrive: 3.7, options: [propeller, driven] })).toEqual([])
    const tire = await compare({
      ...car,
      tire: { size: 'FR70-14' },
      options: [{ kind: 'shaft-ring', pulsesPerTurn: 8 }],
    })
    expect(tire.body).toMatchObject({ code: 'tire-size-not-tabulated', errors: [{ pointer: '#/tire/size' }] })
    const kind = await compare({ ...car, options: [{ kind: 'radar' }] })
    expect(kind.status).toBe(400)
    expect(kind.body.errors[0]).toMatchObject({ pointer: '#/options/0/kind', code: 'not-in-list' })
  })
})

describe('POST /v1/pick-ups/ring-mounting', () => {
  const mount = (body: unknown) => post(app, '/v1/pick-ups/ring-mounting', body)
  const ring = {
    bore: { mm: 61 },
    shaft: { mm: 61 },
    outsideDiameter: { mm: 110 },
    pulsesPerTurn: 16,
    joint: { count: 2, removed: { mm: 1 }, gap: { mm: 1.2 } },
  }

  // By hand: v = pi · 0.11 m · 5500/60 = 31.678 m/s = 114.04 km/h; 2700 · v² = 2.7094 MPa; · 12 · 24.5 mm2 = 796.6 N.
  test('stress and force come in their units', async () => {
    const spin = { shaftSpeed: { rpm: 5500 }, width: { mm: 12 }, material: { kind: 'aluminum' } }
    const { status, body } = await mount({ ...ring, spin })
    expect(status).toBe(200)
    expect(body.spin.rimSpeed.kmh).toBeCloseTo(114.04, 2)
    expect(body.spin.hoopStress.mpa).toBeCloseTo(2.7094, 3)
    expect(body.spin.hoopForce.n).toBeCloseTo(796.6, 0)
    expect(body.spin.hoopForce.lbf).toBeCloseTo(796.6 / 4.448222, 1)
  })

  test('ring and noise of the answer are taken by simulation and filter design as they are', async () => {
    const { body } = await mount({ ...ring, speed: { kmh: 80 } })
    const profile = [0, 20].map((s) => ({ t: { s }, speed: { kmh: 80 } }))
    const pulses = { perKm: 8000 }
    const simulated = await post(app, '/v1/signals/simulation', { pulses, ring: body.ring, profile })
    expect(simulated.status).toBe(200)
    // Without a filter the display shows single periods: their spread is the ripple, to the first order.
    expect(simulated.body.steadySpread.kmh / body.noise.kmh).toBeCloseTo(1, 1)
    const designed = await post(app, '/v1/signals/filter-design', {
      sampling: { pulses, speed: { kmh: 80 } },
      noise: { kmh: body.noise.kmh },
      limits: { noiseAfter: { kmh: 0.1 } },
    })
    expect(designed.status).toBe(200)
  })

  test.each([
    [{ ...ring, bore: { mm: 120 } }, '#/bore', 'limits-crossed'],
    [{ ...ring, pulsesPerTurn: 1 }, '#/pulsesPerTurn', 'out-of-range'],
    [{ ...ring, joint: { count: 2, removed: { mm: 1 }, gap: { mm: 80 } } }, '#/joint/gap', 'out-of-range'],
  ])('says which field to change (%#)', async (request, pointer, code) => {
    const { status, body } = await mount(request)
    expect(status).toBe(422)
    expect(body).toMatchObject({ code, errors: [{ pointer }] })
  })
})
