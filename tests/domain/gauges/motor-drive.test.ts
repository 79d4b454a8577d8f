import { expect, test } from 'vitest'
import { type MotorDriveRequest, motorDrive } from '../../../src/domain/gauges/motor-drive.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { MILE_M, toSi } from '../../../src/domain/measure/units.js'

const mph = (value: number) => toSi('speed', 'mph', value)

const REQUEST: MotorDriveRequest = {
  head: {
    constantPerM: exact(1408 / MILE_M),
    torqueNm: uncertain(0.004, 'head: torque', 0.0002),
    coldTorqueNm: exact(0.004),
  },
  speeds: { creepMPerS: mph(20), topMPerS: mph(100) },
  supply: { minV: exact(10), maxV: exact(14) },
  ambientK: exact(293.15),
  minTorqueMargin: 1.5,
  maxStepMPerS: mph(1),
  motors: [
    {
      kind: 'dc',
      name: 'strong',
      constantNmPerA: exact(0.03),
      resistanceOhm: exact(5),
      noLoadCurrentA: exact(0.05),
      levels: 1000,
      control: 'speed',
    },
  ],
}

test('the head turns from 469 to 2,347 rpm: 1408 · 20/60 to 1408 · 100/60', () => {
  const { headSpeeds } = motorDrive(REQUEST)
  expect(headSpeeds.map(({ headSpeedPerS }) => Math.round(headSpeedPerS.value * 60))).toEqual([
    469, 939, 1408, 1877, 2347,
  ])
})

// Half the turns of the head: twice the torque, and a tenth of it lost: 0.004/(0.5 · 0.9).
test('a gear changes speed and torque at the motor', () => {
  const { points } = motorDrive({
    ...REQUEST,
    gear: { motorTurnsPerHeadTurn: exact(0.5), efficiency: exact(0.9) },
  }).motors[0]!
  expect(points[4]!.motorSpeedPerS.value * 60).toBeCloseTo((1408 * 100) / 120, 6)
  expect(points[4]!.requiredTorqueNm.value).toBeCloseTo(0.004 / 0.45, 12)
})

// One level is 0.014 V: 0.014/(2π · 0.03) = 0.0742728 turns a second, 3600/1408 mph for one: 0.189901 mph; 2 degrees per mph.
test('a step of the control is seen as an angle of the needle', () => {
  const dial = { startRad: (-120 * Math.PI) / 180, endRad: (120 * Math.PI) / 180, maxMPerS: mph(120) }
  const motor = motorDrive({ ...REQUEST, head: { ...REQUEST.head, dial } }).motors[0]!
  const steps = ((0.014 / (2 * Math.PI * 0.03)) * 3600) / 1408
  expect(motor.controlStepMPerS.value).toBeCloseTo(mph(steps), 9)
  expect((motor.controlStepAngleRad!.value * 180) / Math.PI).toBeCloseTo(2 * steps, 9)
})

// The torque of the head is 0.004 ± 10 %: so is the torque margin, to first order.
test('the torque margin carries the scatter of the head', () => {
  const { torqueMargin } = motorDrive({
    ...REQUEST,
    head: { ...REQUEST.head, coldTorqueNm: exact(0.001) },
  }).motors[0]!.points[0]!
  expect(plusMinus(torqueMargin) / torqueMargin.value).toBeCloseTo(0.1, 9)
})

test('a motor serves when every check conforms; the one that does not names its field', () => {
  expect(motorDrive(REQUEST).motors[0]!.verdict).toBe('conforms')
  // 100 mph is 39.11 turns a second: a back-EMF of 7.37 V, more than a supply of 7 V.
  const weak = motorDrive({ ...REQUEST, supply: { minV: exact(7), maxV: exact(14) } }).motors[0]!
  expect(weak.verdict).toBe('does-not-conform')
  expect(weak.points[4]!.torqueMargin.value).toBeLessThan(0)
  expect(weak.checks.filter(({ result }) => result !== 'conforms').map(({ field }) => field)).toEqual([
    '/supply/min',
  ])
})

test('without a torque in the cold, that of the warm head counts twice, and the answer says so', () => {
  const { coldTorqueNm: _, ...head } = REQUEST.head
  const found = motorDrive({ ...REQUEST, head })
  expect(found.motors[0]!.points[0]!.requiredTorqueNm.value).toBeCloseTo(0.008, 12)
  expect(found.assumptions.map(({ field }) => field)).toEqual(['/head/coldTorque'])
})

test('a blocked motor draws 14 V/5 ohm: the caution on the fuse says so', () => {
  const note = motorDrive(REQUEST).notes
  expect([...note].find(({ code }) => code === 'motor-fuse')!.text).toContain('up to 2.8 A')
})

test('swapped speeds and voltages are refused', () => {
  expect(() => motorDrive({ ...REQUEST, speeds: { creepMPerS: mph(100), topMPerS: mph(100) } })).toThrow(
    'speeds.creep: expected less than speeds.top, 100 mph, got 100 mph',
  )
  expect(() => motorDrive({ ...REQUEST, supply: { minV: exact(15), maxV: exact(14) } })).toThrow(
    'supply.min: expected at most supply.max, 14 V, got 15 V',
  )
})
