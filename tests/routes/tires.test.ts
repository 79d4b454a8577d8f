import { afterAll, describe, expect, test } from 'vitest'
import { clientOf, newClient, post, testAppWithStore } from '../support/app.js'
import { expectDocumented } from '../support/documented.js'
import { turnsDuring } from '../support/event-loop-turns.js'

const { app, store } = await testAppWithStore()
afterAll(() => app.close())

const anyone = clientOf(app, undefined)
const club = await newClient(app, store, 'club')

describe('a size in millimeters without a letter', () => {
  // Found 2026-11: +3.92 % ± 7.25, by a diagonal 155-15 of 675.5 mm. UN R30 Annex 5 (from memory): 5.60-15 650 mm, 155R15 630 mm across;
  // rolling factors 2.99 and 3.05 (ETRTO, from memory): 100 (3.05 x 630 / (2.99 x 650) - 1) = -1.134 %.
  test('is compared as a radial tire, which it nearly always is', async () => {
    const { status, body } = await post(app, '/v1/tires/comparison', {
      from: { size: '5.60-15' },
      to: [{ size: '155-15' }, { size: '155-15', construction: 'radial' }, { size: '155R15' }],
      speeds: [{ kmh: 80 }],
    })
    expect(status, JSON.stringify(body)).toBe(200)
    const [unstated, stated, written] = body.to
    for (const { changePercent } of body.to) {
      expect(changePercent).toBeCloseTo(100 * ((3.05 * 630) / (2.99 * 650) - 1), 9)
    }
    expect(stated).toEqual(written)
    // The diagonal reading: 15 in and two heights of 0.95 x 155 mm, 3.9 % longer than the tire before.
    const diagonalPercent = 100 * ((381 + 2 * 0.95 * 155) / 650 - 1)
    expect(unstated.changePercent + unstated.changePlusMinusPercent).toBeGreaterThan(diagonalPercent)
    expect(body.notes.map(({ code }: { code: string }) => code)).toContain('tire-construction-assumed')
  })

  test('also takes its construction from the query', async () => {
    const radial = await anyone('GET', '/v1/tires?size=155-13&construction=radial')
    expectDocumented('getTireGeometry', radial)
    expect(radial.body).toMatchObject({
      basis: 'table',
      size: { designation: '155R13', construction: 'radial' },
      notes: [],
    })
    const belted = await anyone('GET', '/v1/tires?size=165R15&construction=diagonal')
    expectDocumented('getTireGeometry', belted)
    expect(belted.body).toMatchObject({ status: 422, code: 'construction-mismatch' })
    expect(belted.body.errors[0]).toMatchObject({ in: 'query', pointer: '#/construction' })
  })

  test('is stored with its construction, radial or not', async () => {
    const row = {
      size: '165-400',
      overallDiameter: { mm: 662 },
      construction: 'radial',
      source: 'Measured on two new tires',
    }
    expect((await club('POST', '/v1/tire-sizes', row)).status).toBe(201)
    const { body } = await anyone('GET', '/v1/tires?size=165%20400')
    expect(body).toMatchObject({ basis: 'table', size: { designation: '165R400', construction: 'radial' } })
    expect(body.overallDiameter.mm).toBeCloseTo(662, 9)
  })
})

// Found 2026-11: refused, "E70-14 is diagonal, got bias-belted".
test('a letter size with a dash is stored as bias-belted, and found by its marking', async () => {
  const row = {
    size: 'E70-14',
    overallDiameter: { mm: 650 },
    construction: 'bias-belted',
    source: 'Measured on two new tires',
  }
  expect((await club('POST', '/v1/tire-sizes', row)).status).toBe(201)
  const { body } = await anyone('GET', '/v1/tires?size=E70-14')
  expect(body.overallDiameter.mm).toBeCloseTo(650, 9)
})

// Found 2026-11: "not a tire size this service reads".
test('an overall diameter by a width is rejected with the field to give instead, which is then accepted', async () => {
  const refused = await post(app, '/v1/tires/geometry', { tire: { size: '815x105' } })
  expect(refused.body).toMatchObject({
    status: 422,
    code: 'tire-size-without-rim',
    errors: [{ pointer: '#/tire/size' }],
  })
  expect(refused.body.detail).toContain('give overallDiameter {"mm": 815} and construction "diagonal"')
  const given = await post(app, '/v1/tires/geometry', {
    tire: { overallDiameter: { mm: 815 }, construction: 'diagonal' },
  })
  // 2.99 x 815 mm
  expect(given.body.rollingCircumference.mm).toBeCloseTo(2.99 * 815, 9)
})

// Found 2026-11: 50 tires at 200 speeds, a body of 8 kB, held the thread of all callers for 2 s.
test('many tires at many speeds are compared in another thread, each as it is alone', async () => {
  const to = Array.from({ length: 20 }, (_, n) => ({ size: '175/70R13', wear: { mm: n / 10 } }))
  const speeds = Array.from({ length: 50 }, (_, n) => ({ kmh: n + 1 }))
  const compare = (tires: typeof to, at: typeof speeds) =>
    post(app, '/v1/tires/comparison', { from: { size: '165R13' }, to: tires, speeds: at })
  const alone = await compare([to[19]!], [speeds[49]!])
  const { turns, result } = await turnsDuring(compare(to, speeds))
  expect(result.status, JSON.stringify(result.body)).toBe(200)
  expect(result.body.to).toHaveLength(20)
  expect(result.body.to[19]).toEqual({ ...alone.body.to[0], speeds: result.body.to[19].speeds })
  expect(result.body.to[19].speeds[49]).toEqual(alone.body.to[0].speeds[0])
  expect(turns).toBeGreaterThan(300)
})
