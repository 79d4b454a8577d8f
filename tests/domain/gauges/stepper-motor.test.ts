import { describe, expect, test } from 'vitest'
import type { DrivenHead } from '../../../src/domain/gauges/driven-head.js'
import {
  pullOutTorqueNm,
  type StepperMotor,
  stepperMotorOnHead,
} from '../../../src/domain/gauges/stepper-motor.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'

const HEAD: DrivenHead = {
  motorTurnsPerM: exact(0.5),
  torqueNm: exact(0.01),
  coldTorqueNm: exact(0.02),
  speedsMPerS: [2, 40],
  creepMPerS: 2,
  topMPerS: 40,
  ambientK: exact(293.15),
  reserve: 2,
  maxStepMPerS: 0.5,
}
const MOTOR: StepperMotor = {
  kind: 'stepper',
  name: 'a',
  stepsPerTurn: 200,
  pullOut: [
    { speedPerS: 30, torqueNm: exact(0.03) },
    { speedPerS: 10, torqueNm: exact(0.1) },
  ],
  timerHz: 1e6,
}

describe('200 steps a turn and half a turn per meter, from 2 to 40 m/s', () => {
  const found = stepperMotorOnHead(MOTOR, 1, HEAD)

  // 40 m/s · 0.5 = 20 turns a second, halfway from 10 to 30: 0.065 N m; cold the head needs 0.02.
  test('pull-out torque between two points, and at the lowest below them', () => {
    expect(found.points.map(({ availableTorqueNm }) => availableTorqueNm.value)).toEqual([
      0.1,
      expect.closeTo(0.065, 12),
    ])
    expect(found.points[1]!.torqueMargin.value).toBeCloseTo(3.25, 12)
  })

  // f = 200 · 20 = 4000 steps a second, 250 ticks: one tick is 40/250 = 0.16 m/s. 30 steps a second are 30/100 m/s.
  test('a tick is 0.16 m/s at the top; steady from 0.3 m/s', () => {
    expect(found.controlStepMPerS.value).toBeCloseTo(0.16, 12)
    expect(found.lowestSteadySpeedMPerS.value).toBeCloseTo(0.3, 12)
    expect(found.checks.map(({ kind, result }) => [kind, result])).toEqual([
      ['torque-reserve', 'conforms'],
      ['visible-step', 'conforms'],
      ['lowest-speed', 'conforms'],
    ])
  })

  test('a slower timer shows', () => {
    const { checks } = stepperMotorOnHead({ ...MOTOR, timerHz: 2e5 }, 1, HEAD)
    expect(checks[1]).toMatchObject({ field: '/motors/1/timer', result: 'does-not-conform' })
  })
})

// Two phases of 0.5 A and 4 ohm at 20 °C heat by 2 · 0.25 · 4 = 2 W and more as they warm: 30/(1 - 0.00393 · 30) K by 15 K/W.
test('both phases heat the winding', () => {
  const { winding } = stepperMotorOnHead(
    {
      ...MOTOR,
      phase: { currentA: exact(0.5), resistanceOhm: exact(4), thermalResistanceKPerW: exact(15) },
    },
    1,
    HEAD,
  )
  expect(winding!.temperatureK!.value - 293.15).toBeCloseTo(30 / (1 - 0.00393 * 30), 6)
})

// 0.5 of ± 0.02 and 0.5 of ± 0.01, independent: √(0.01² + 0.005²); plus the slope -0.0035 per 1/s on ± 0.4.
test('the uncertainty of the torque is that of both points and of the speed', () => {
  const torque = pullOutTorqueNm(
    [
      { speedPerS: 10, torqueNm: uncertain(0.1, 'a', 0.01) },
      { speedPerS: 30, torqueNm: uncertain(0.03, 'b', 0.005) },
    ],
    uncertain(20, 'n', 0.2),
  )
  expect(plusMinus(torque)).toBeCloseTo(Math.hypot(0.01, 0.005, 0.0035 * 0.4), 12)
})

// 1000 turns a mile at 90 mph are 1500 rpm; in binary a last digit more than 25 a second.
test('a torque given at the very speed of the motor at the top reaches it', () => {
  const head = {
    ...HEAD,
    motorTurnsPerM: exact(1000 / 1609.344),
    speedsMPerS: [90 * 0.44704],
    topMPerS: 90 * 0.44704,
  }
  for (const speedPerS of [25, 25 * (1 - 1e-15)]) {
    const pullOut = [{ speedPerS, torqueNm: exact(0.05) }]
    expect(stepperMotorOnHead({ ...MOTOR, pullOut }, 1, head).points[0]!.availableTorqueNm.value).toBe(0.05)
  }
})

test('torques that end below the top speed, or stand twice at one speed, are refused', () => {
  expect(() => stepperMotorOnHead({ ...MOTOR, pullOut: MOTOR.pullOut.slice(1) }, 1, HEAD)).toThrow(
    'pullOut: expected the pull-out torque up to 1200 rpm, the speed of the motor at the top speed, got it up to 600 rpm; measure it there, or give 0 if the motor no longer turns',
  )
  const twice = [...MOTOR.pullOut, { speedPerS: 10, torqueNm: exact(0.2) }]
  expect(() => stepperMotorOnHead({ ...MOTOR, pullOut: twice }, 1, HEAD)).toThrow(
    'pullOut: expected one torque for each speed, got two at 600 rpm',
  )
})
