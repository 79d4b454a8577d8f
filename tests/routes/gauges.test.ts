import fc from 'fast-check'
import { afterAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'
import { aVehicle } from '../support/vehicles.js'

const app = await testApp()
afterAll(() => app.close())

const SIZES = [
  '195/70R14',
  '205/70R14',
  '165R13',
  '5.60-15',
  '225/60R15',
  '31x10.50R15LT',
  '6.95-14',
  '190/65R390',
]
const size = fc.constantFrom(...SIZES)

describe('POST /v1/gauges/error', () => {
  test('the original tire gives no error', async () => {
    await fc.assert(
      fc.asyncProperty(size, async (one) => {
        const { body } = await post(app, '/v1/gauges/error', {
          fitted: { size: one },
          calibratedFor: { size: one },
          speeds: [{ kmh: 90 }],
        })
        expect(body.table[0].errorPercent).toBe(0)
        expect(body.indicatedPerTrue.plusMinus).toBeGreaterThan(0)
      }),
    )
  })

  test('a long table, computed in another thread, has the rows of short ones', async () => {
    const speeds = Array.from({ length: 60 }, (_, n) => ({ kmh: 10 + n, plusMinus: 0.01 * (n + 1) }))
    const rowsOf = async (some: typeof speeds) => {
      const { status, body } = await post(app, '/v1/gauges/error', {
        fitted: { size: '195/70R14' },
        calibratedFor: { size: '5.60-15' },
        speeds: some,
        rules: ['un-r39'],
      })
      expect(status).toBe(200)
      return body.table
    }
    expect(await rowsOf(speeds)).toEqual([
      ...(await rowsOf(speeds.slice(0, 30))),
      ...(await rowsOf(speeds.slice(30))),
    ])
  })

  test('swapping the tires inverts the ratio', async () => {
    await fc.assert(
      fc.asyncProperty(size, size, async (a, b) => {
        const speeds = [{ kmh: 90 }]
        const there = await post(app, '/v1/gauges/error', {
          fitted: { size: a },
          calibratedFor: { size: b },
          speeds,
        })
        const back = await post(app, '/v1/gauges/error', {
          fitted: { size: b },
          calibratedFor: { size: a },
          speeds,
        })
        expect(there.body.indicatedPerTrue.value * back.body.indicatedPerTrue.value).toBeCloseTo(1, 12)
      }),
    )
  })

  test('a smaller tire makes the dial over-read, by the ratio of the circumferences', async () => {
    const { body } = await post(app, '/v1/gauges/error', {
      fitted: { rollingCircumference: { mm: 1800 } },
      calibratedFor: { rollingCircumference: { mm: 1890 } },
      speeds: [{ kmh: 100 }],
      rules: ['un-r39'],
    })
    expect(body.table[0].indicated.kmh).toBeCloseTo(105, 9)
    expect(body.verdicts[0].result).toBe('conforms')
    expect(body.series[0].points).toEqual([[expect.closeTo(100, 9), expect.closeTo(5, 9)]])
  })

  test("the head's own error is added, with its uncertainty", async () => {
    const { body } = await post(app, '/v1/gauges/error', {
      indicatedPerTrue: 1,
      head: { scalePercent: 2, offset: { kmh: 1, plusMinus: 0.5 } },
      speeds: [{ kmh: 100 }],
    })
    expect(body.table[0].indicated.kmh).toBeCloseTo(103, 9)
    expect(body.table[0].indicated.plusMinus.kmh).toBeCloseTo(0.5, 9)
  })
})

describe('GET /v1/gauges/rules', () => {
  test('lists every rule with its standing, with the note that it is an aid', async () => {
    const { rules, caution } = (await app.inject('/v1/gauges/rules')).json()
    expect(caution).toContain('not legal advice')
    const r39 = rules.find(({ id }: { id: string }) => id === 'un-r39')
    expect(r39).toMatchObject({
      lower: { percent: 0, kmh: 0 },
      upper: { percent: 10, kmh: expect.closeTo(4, 12) },
      standing: 'published',
    })
    expect(rules.find(({ id }: { id: string }) => id === 'un-r39-production').standing).toBe('from-memory')
  })
})

describe('POST /v1/odometers/error', () => {
  test('8 pulses per turn on 1885 mm against 4000 per km: over-reads by 6.101 %, 265.2525 km indicated are 250 km (EU 165/2014)', async () => {
    const { body } = await post(app, '/v1/odometers/error', {
      tire: { rollingCircumference: { mm: 1885 } },
      stages: [{ kind: 'pulse-ring', pulsesPerTurn: 8 }],
      head: { input: 'pulses', constant: { perKm: 4000 }, unit: 'kmh' },
      indicated: { km: 265.2519894 },
      rules: ['de-odometer'],
    })
    expect(body.errorPercent).toBeCloseTo(6.101, 3)
    expect(body.trueDistance.km).toBeCloseTo(250, 4)
    expect(body.verdicts[0].result).toBe('does-not-conform')
    expect(body.notes.map(({ code }: { code: string }) => code)).toContain('odometer-law')
  })
})

describe('a full-scale rule', () => {
  const head = { input: 'turns', constant: { perMile: 1000 }, unit: 'kmh' }
  const stages = [{ kind: 'final-drive', ring: 37, pinion: 9 }]
  const tire = { size: '175/70R13' }
  const rules = ['de-before-1991']
  const speeds = [{ kmh: 90 }]
  const readings = [30, 60, 90].map((kmh) => ({ indicated: { kmh: kmh + 1 }, true: { kmh } }))
  test.each([
    [
      '/v1/vehicle-checks',
      aVehicle({ rule: rules[0], paths: [{ name: 'dial', axle: 'rear', stages, head }] }),
      '#/paths/0/head/dialMax',
    ],
    ['/v1/drive-paths/evaluation', { tire, stages, head, rules, speeds }, '#/head/dialMax'],
    ['/v1/gauges/error', { fitted: tire, calibratedFor: tire, head: {}, rules, speeds }, '#/head/dialMax'],
    ['/v1/cables/bench-table', { head, rules, speeds }, '#/head/dialMax'],
    ['/v1/gauges/calibration', { readings, model: 'proportional', rules }, '#/dialMax'],
  ])(
    'is refused at %s where the last mark of the dial is not known, and the field is named',
    async (url, body, pointer) => {
      const answer = await post(app, url, body)
      expect([answer.status, answer.body.code, answer.body.errors?.[0].pointer]).toEqual([
        422,
        'rule-needs-dial-max',
        pointer,
      ])
    },
  )
})

describe('a custom rule whose bounds cross', () => {
  const asked = (custom: Record<string, unknown>) =>
    post(app, '/v1/gauges/error', {
      indicatedPerTrue: 1,
      speeds: [{ kmh: 50 }],
      rules: [{ custom }],
    })
  const bounds = (lower: [number, number], upper: [number, number], range = {}) => ({
    lower: { percent: lower[0], kmh: lower[1] },
    upper: { percent: upper[0], kmh: upper[1] },
    ...range,
  })

  test.each([
    // 55 km/h at least and 50 at most.
    [bounds([0, 5], [0, 0])],
    // At 50 km/h 52.5 at least and 45 at most; they meet at 200 km/h.
    [bounds([5, 0], [10, -10])],
    [bounds([5, 0], [10, -10], { from: { kmh: 199 } })],
    // Over 5 % of 40 km/h crosses 2 km/h.
    [bounds([5, 0], [0, 2], { to: { kmh: 41 } })],
    [bounds([5, 0], [0, 2])],
  ])('is rejected: %j', async (custom) => {
    const { status, body } = await asked(custom)
    expect(status).toBe(422)
    expect(body).toMatchObject({
      code: 'rule-bounds-crossed',
      errors: [{ pointer: '#/rules/0/custom/lower' }],
    })
  })

  test.each([
    [bounds([0, 0], [0, 0])],
    [bounds([5, 0], [10, -10], { from: { kmh: 200 } })],
    [bounds([5, 0], [0, 2], { to: { kmh: 40 } })],
  ])('is accepted if they only touch: %j', async (custom) => {
    expect((await asked(custom)).status).toBe(200)
  })
})
