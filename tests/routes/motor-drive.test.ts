import { afterAll, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'

const app = await testApp()
afterAll(() => app.close())

const DC = {
  kind: 'dc',
  name: 'strong',
  constant: { mNmPerA: 30 },
  noLoadCurrent: { ma: 50 },
  resistance: { ohm: 5 },
  levels: 1000,
  control: 'speed',
}
const BODY = {
  head: { constant: { perMile: 1408 }, torque: { mNm: 4 }, coldTorque: { mNm: 4 } },
  speeds: { creep: { mph: 20 }, top: { mph: 100 } },
  supply: { min: { v: 10 }, max: { v: 14 } },
  ambient: { c: 20 },
  motors: [DC],
}
const PER_TURN = 2 * Math.PI * 0.03

test('a head of 1408 turns a mile needs 2,347 rpm at 100 mph, and a motor of 30 mN m/A some 8.3 V', async () => {
  const { status, body } = await post(app, '/v1/gauges/motor-drive', BODY)
  expect(status).toBe(200)
  expect(body.headSpeeds[4].headSpeed.rpm).toBeCloseTo((1408 * 100) / 60, 6)
  const top = body.motors[0].points[4]
  // U = k·ω + (M/k + I₀)·R, R at 20 °C.
  expect(top.voltage.v).toBeCloseTo((PER_TURN * 1408 * 100) / 3600 + (4 / 30 + 0.05) * 5, 9)
  expect(body.motors[0].verdict).toBe('conforms')
})

// A back-EMF of k V s/rad is k·2π/60 V per turn a minute: 0.03 is 3.14159 V per 1000.
test('a constant in volts per 1000 rpm is the same motor', async () => {
  const motor = { ...DC, constant: { vPerKrpm: (PER_TURN * 1000) / 60 } }
  const { body } = await post(app, '/v1/gauges/motor-drive', { ...BODY, motors: [motor] })
  expect(body.motors[0].constant.mNmPerA).toBeCloseTo(30, 9)
})

test('bad input is refused by name', async () => {
  const stepper = {
    kind: 'stepper',
    name: 'short',
    stepsPerTurn: 200,
    pullOut: [{ speed: { rpm: 600 }, torque: { mNm: 50 } }],
    timer: { hz: 1_000_000 },
  }
  const short = await post(app, '/v1/gauges/motor-drive', { ...BODY, motors: [DC, stepper] })
  expect([short.status, short.body.code, short.body.errors[0].pointer]).toEqual([
    422,
    'out-of-range',
    '#/motors/1/pullOut',
  ])
  expect(short.body.detail).toContain('expected the pull-out torque up to 2346.7 rpm')
  const { constant: _, ...none } = DC
  const { status } = await post(app, '/v1/gauges/motor-drive', { ...BODY, motors: [none] })
  expect(status).toBe(400)
})
