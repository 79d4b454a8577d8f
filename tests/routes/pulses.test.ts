import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'

const app = await testApp()
afterAll(() => app.close())
const { label, timing } = JSON.parse(
  readFileSync(join(import.meta.dirname, '../vectors/drive-paths.json'), 'utf8'),
)

describe(`POST /v1/pulses/ratio: ${label.source}`, () => {
  const ask = (tire: unknown) =>
    post(app, '/v1/pulses/ratio', {
      tire,
      pulsesPerTurn: label.pulsesPerTurn,
      zeroTimeout: { s: label.zeroTimeoutS },
    })

  test('the size is 651 mm across', async () => {
    const { body } = await post(app, '/v1/tires/geometry', { tire: { size: label.size } })
    expect(body.overallDiameter.mm).toBeCloseTo(label.diameterMm, 9)
  })

  test('on the circle of the rounded diameter: 12 605 pulses a mile, about 5 inches a pulse', async () => {
    const { body } = await ask({ overallDiameter: { in: label.roundedDiameterIn }, construction: 'radial' })
    expect(Math.round(body.onFreeCircumference.pulses.perMile)).toBe(label.pulsesPerMile)
    expect(body.onFreeCircumference.distancePerPulse.in).toBeCloseTo(label.inchesPerPulse, 1)
  })

  test('and the answer shows a difference of about 3 % from the rolling circumference, more than its uncertainty', async () => {
    const { body } = await ask({ overallDiameter: { in: label.roundedDiameterIn }, construction: 'radial' })
    expect(body.onFreeCircumference.differencePercent).toBeCloseTo(-label.labelOverRollingPercent, 0)
    // 3.05/pi = 0.9708 (ETRTO factor over the circle)
    expect(body.pulses.perMile / body.onFreeCircumference.pulses.perMile).toBeCloseTo(Math.PI / 3.05, 9)
    expect(Math.abs(body.onFreeCircumference.differencePercent)).toBeGreaterThan(
      (100 * body.pulses.plusMinus.perMile) / body.pulses.perMile,
    )
  })

  test('half a second without a pulse hides what is slower than about 0.57 mph', async () => {
    const { body } = await ask({ turns: { perMile: label.pulsesPerMile / label.pulsesPerTurn } })
    expect(body.lowestSpeedShown.mph).toBeCloseTo(label.lowestMph, 2)
  })
})

describe(`POST /v1/pulses/ratio: ${timing.source}`, () => {
  test('period, steps, crossover, interrupt load, wrap', async () => {
    const { body } = await post(app, '/v1/pulses/ratio', {
      tire: { turns: { perKm: 500 } },
      pulsesPerTurn: 8,
      speeds: [{ kmh: 100 }],
      topSpeed: { kmh: 100 },
      timerTick: { us: 1 },
      gateTime: { s: 0.5 },
      interruptTime: { us: 9 },
      counterBits: 32,
    })
    const [row] = body.table
    expect(row.period.s).toBeCloseTo(0.009, 12)
    expect(row.speedStepByPeriod.kmh).toBeCloseTo(100 / timing.ticksAt100KmhWith1MHz, 9)
    expect(row.speedStepByGate.kmh).toBeCloseTo(timing.gateStepKmhAtHalfSecond, 9)
    expect(body.crossoverFrequency.hz).toBeCloseTo(Math.sqrt(2e6), 6)
    expect(body.interruptLoadPercent).toBeCloseTo(0.1, 9)
    expect(body.counterWrap.s / 60).toBeCloseTo(71.58, 2)
    expect(body.constants.speedTimesPeriod.kmhS).toBeCloseTo(0.9, 12)
  })
})

describe('a timer that steps less than once in a pulse period', () => {
  const ask = (timerTick: unknown) =>
    post(app, '/v1/pulses/ratio', {
      tire: { turns: { perKm: 500 } },
      pulsesPerTurn: 8,
      speeds: [{ kmh: 50 }, { kmh: 100 }],
      timerTick,
    })

  // 4 pulses a meter at 100 km/h: 3.6/(4 x 100) s = 9 ms. Until 2026-11 a tick of 1e6 s answered a step of 1.1e10 km/h.
  test('is refused by its field, with the maximum period', async () => {
    for (const tick of [{ s: 1e6 }, { ms: 9.001 }]) {
      const { status, body } = await ask(tick)
      expect(status).toBe(422)
      expect(body).toMatchObject({ code: 'top-speed-unresolved', errors: [{ pointer: '#/timerTick' }] })
      expect(body.detail).toContain('at most 0.009 s')
      expect(body.detail).toContain('100 km/h')
    }
  })
  test('is accepted up to the period itself, where one step is the whole speed', async () => {
    const { body } = await ask({ ms: 9 })
    expect(body.table[1].speedStepByPeriod.kmh).toBeCloseTo(100, 9)
  })
  test('is refused for pick-ups as well, as a setting of the display', async () => {
    const { status, body } = await post(app, '/v1/pick-ups/comparison', {
      tire: { turns: { perKm: 500 } },
      speeds: [{ kmh: 100 }],
      display: { timerTick: { s: 600 } },
      options: [{ kind: 'shaft-ring', pulsesPerTurn: 8 }],
    })
    expect(status).toBe(422)
    expect(body).toMatchObject({ errors: [{ pointer: '#/display/timerTick' }] })
  })
})

describe('POST /v1/pulses/scaling', () => {
  test('the same rate in both units is the ratio one, exactly', async () => {
    const { body } = await post(app, '/v1/pulses/scaling', {
      from: { perKm: 1000 },
      to: { perMile: 1609.344 },
      maxTerm: 10,
    })
    expect(body.exactRatio).toBe('1')
    expect(body.candidates[0]).toEqual({ multiply: 1, divide: 1, errorPercent: 0 })
  })

  test('8000 out of 12 605 with numbers up to 99: 33/52 is the nearest (tried: every fraction)', async () => {
    let best = { error: 1, multiply: 0, divide: 0 }
    for (let divide = 1; divide <= 99; divide++) {
      for (let multiply = 1; multiply <= 99; multiply++) {
        const error = Math.abs(multiply / divide / (8000 / 12605) - 1)
        if (error < best.error) best = { error, multiply, divide }
      }
    }
    const { body } = await post(app, '/v1/pulses/scaling', {
      from: { perMile: 12605 },
      to: { perMile: 8000 },
      maxTerm: 99,
    })
    expect(body.candidates[0]).toMatchObject({ multiply: best.multiply, divide: best.divide })
    expect(Math.abs(body.candidates[0].errorPercent)).toBeCloseTo(best.error * 100, 9)
  })
})
