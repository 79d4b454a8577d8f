import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  type DcMotor,
  dcMotorOnHead,
  dcTorqueNm,
  motorConstantNmPerA,
} from '../../../src/domain/gauges/dc-motor.js'
import type { DrivenHead } from '../../../src/domain/gauges/driven-head.js'
import { exact, type Figure, uncertain } from '../../../src/domain/measure/figure.js'
import { plusMinus } from '../../../src/domain/measure/uncertainty.js'
import { randomFrom } from '../../../tools/random.js'

const TURN_RAD = 2 * Math.PI
const ROOM_K = 293.15

const HEAD: DrivenHead = {
  motorTurnsPerM: exact(1),
  torqueNm: exact(0.003),
  coldTorqueNm: exact(0.003),
  speedsMPerS: [1, 40],
  creepMPerS: 1,
  topMPerS: 40,
  ambientK: exact(ROOM_K),
  reserve: 1.5,
  maxStepMPerS: 1,
}
const MOTOR: DcMotor = {
  kind: 'dc',
  name: 'a',
  constantNmPerA: exact(0.03),
  resistanceOhm: exact(10),
  noLoadCurrentA: exact(0.05),
  levels: 100,
  control: 'speed',
}
const SUPPLY = { minV: exact(10), maxV: exact(12) }
const resultOf = (motor: DcMotor, kind: string, head = HEAD) =>
  dcMotorOnHead(motor, 3, head, SUPPLY).checks.find((check) => check.kind === kind)

describe('k = 0.03 N m/A, 10 ohm, 0.05 A without load, at 40 turns a second and 3 mN m', () => {
  const found = dcMotorOnHead(MOTOR, 3, HEAD, SUPPLY)
  const top = found.points[1]!
  const backEmfV = 0.03 * TURN_RAD * 40

  test('current 0.003/0.03 + 0.05 A; voltage: back-EMF 7.54 V and 1.5 V across the winding', () => {
    expect(top.currentA!.value).toBeCloseTo(0.15, 12)
    expect(top.voltageV!.value).toBeCloseTo(backEmfV + 1.5, 10)
  })

  test('10 V leave 0.03 · ((10 - 7.54)/10 - 0.05) = 5.88 mN m, a margin of 1.96', () => {
    expect(top.availableTorqueNm.value).toBeCloseTo(0.03 * ((10 - backEmfV) / 10 - 0.05), 12)
    expect(top.torqueMargin.value).toBeCloseTo(1.960178, 6)
  })

  test('a hundredth of 12 V is 0.12/(2π · 0.03) = 0.637 m/s', () => {
    expect(found.controlStepMPerS.value).toBeCloseTo(0.12 / (TURN_RAD * 0.03), 12)
    expect(found.lowestSteadySpeedMPerS.value).toBeCloseTo(0.12 / (TURN_RAD * 0.03), 12)
    expect(found.stallCurrentA!.value).toBeCloseTo(1.2, 12)
  })
})

test('cold grease of another 3 mN m slows a motor without feedback by 0.003 · 10/(2π · 0.03²) = 5.31 m/s', () => {
  const head = { ...HEAD, coldTorqueNm: exact(0.006) }
  const motor: DcMotor = { ...MOTOR, control: 'voltage' }
  const found = dcMotorOnHead(motor, 3, head, SUPPLY)
  expect(found.readingShiftMPerS!.value).toBeCloseTo(0.03 / (TURN_RAD * 0.0009), 9)
  expect(found.lowestSteadySpeedMPerS.value).toBeCloseTo(0.03 / (TURN_RAD * 0.0009), 9)
  expect(resultOf(motor, 'lowest-speed', head)).toMatchObject({
    field: '/motors/3/control',
    result: 'does-not-conform',
  })
  expect(resultOf(motor, 'reading-shift', head)!.result).toBe('does-not-conform')
  expect(resultOf(MOTOR, 'reading-shift', head)).toBeUndefined()
})

test('each limit is judged where it lies', () => {
  expect(resultOf(MOTOR, 'torque-reserve')!.result).toBe('conforms')
  expect(resultOf(MOTOR, 'torque-reserve', { ...HEAD, reserve: 1.97 })).toMatchObject({
    field: '/supply/min',
    result: 'does-not-conform',
  })
  expect(resultOf({ ...MOTOR, ratedCurrentA: 0.15 }, 'rated-current')!.result).toBe('conforms')
  expect(resultOf({ ...MOTOR, ratedCurrentA: 0.149 }, 'rated-current')!.result).toBe('does-not-conform')
  expect(resultOf({ ...MOTOR, levels: 60 }, 'visible-step')).toMatchObject({
    field: '/motors/3/levels',
    result: 'does-not-conform',
  })
})

test('the constant follows from the speed without load: (12 - 0.1 · 10)/(2π · 50)', () => {
  expect(motorConstantNmPerA(exact(12), exact(50), exact(0.1), exact(10)).value).toBeCloseTo(
    11 / (100 * Math.PI),
    12,
  )
  const given: DcMotor = {
    kind: 'dc',
    name: 'a',
    voltageV: exact(12),
    noLoadSpeedPerS: exact(50),
    noLoadCurrentA: exact(0.1),
    resistanceOhm: exact(10),
    levels: 100,
    control: 'speed',
  }
  expect(dcMotorOnHead(given, 0, HEAD, SUPPLY).constantNmPerA!.value).toBeCloseTo(11 / (100 * Math.PI), 12)
  expect(() => dcMotorOnHead({ ...given, noLoadCurrentA: exact(1.2) }, 2, HEAD, SUPPLY)).toThrow(
    'noLoadCurrent: expected less than voltage ÷ resistance, 1.2 A, got 1.2 A',
  )
})

const torque = (voltageV: number, turnsPerS: number, k: number, ohm: number, noLoadA: number) =>
  dcTorqueNm(exact(voltageV), exact(turnsPerS), {
    constantNmPerA: exact(k),
    resistanceOhm: exact(ohm),
    noLoadCurrentA: exact(noLoadA),
  }).value

// Handbooks of small DC motors (from memory): the greatest efficiency at a voltage is (1 - √(I₀/I_A))², at the current √(I₀·I_A), where I_A = U/R
// is the current at a standstill.
test('the greatest efficiency is (1 - √(I₀/I_A))²', () => {
  const [voltageV, k, ohm, noLoadA] = [12, 0.03, 10, 0.05]
  const stallA = voltageV / ohm
  const efficiencyAt = (amperes: number) => {
    const turnsPerS = (voltageV - amperes * ohm) / (TURN_RAD * k)
    return (torque(voltageV, turnsPerS, k, ohm, noLoadA) * TURN_RAD * turnsPerS) / (voltageV * amperes)
  }
  const best = Math.sqrt(noLoadA * stallA)
  expect(efficiencyAt(best)).toBeCloseTo((1 - Math.sqrt(noLoadA / stallA)) ** 2, 12)
  expect(Math.max(efficiencyAt(best * 0.99), efficiencyAt(best * 1.01))).toBeLessThan(efficiencyAt(best))
})

// The same: the straight line from the torque at a standstill to the speed without load.
test('half the speed without load leaves half the torque at a standstill', () => {
  const positive = (max: number) => fc.double({ min: 0.01, max, noNaN: true })
  fc.assert(
    fc.property(positive(1), positive(30), (k, ohm) => {
      const noLoadA = 0.02
      const noLoadPerS = (12 - noLoadA * ohm) / (TURN_RAD * k)
      const ratio = torque(12, noLoadPerS / 2, k, ohm, noLoadA) / torque(12, 0, k, ohm, noLoadA)
      return Math.abs(ratio - 0.5) < 1e-9
    }),
  )
})

// JCGM 101, propagation of distributions by draws: 95.45 % of them lie within 2 u of a nearly linear function.
test('of 4000 draws, 93 to 99 % lie within the stated uncertainty', () => {
  const random = randomFrom(11)
  const given = {
    k: [0.03, 0.0006],
    ohm: [10, 0.3],
    noLoadA: [0.05, 0.004],
    torqueNm: [0.003, 0.0002],
    supplyV: [10.5, 0.1],
    perWatt: [25, 2],
    ambientK: [313, 4],
  } as const
  const names = Object.keys(given) as (keyof typeof given)[]
  const figures = Object.fromEntries(
    names.map((name) => [name, uncertain(given[name][0], name, given[name][1])]),
  ) as Record<keyof typeof given, Figure>
  const found = dcMotorOnHead(
    {
      kind: 'dc',
      name: 'a',
      constantNmPerA: figures.k,
      resistanceOhm: figures.ohm,
      noLoadCurrentA: figures.noLoadA,
      winding: { thermalResistanceKPerW: figures.perWatt },
      levels: 100,
      control: 'speed',
    },
    0,
    { ...HEAD, torqueNm: figures.torqueNm, coldTorqueNm: figures.torqueNm, ambientK: figures.ambientK },
    { minV: figures.supplyV, maxV: exact(12) },
  )
  const { torqueMargin, voltageV } = found.points[1]!
  const stated = [torqueMargin, voltageV!, found.winding!.temperatureK!, found.controlStepMPerS]
  const inside = stated.map(() => 0)
  const draws = 4000
  for (let i = 0; i < draws; i++) {
    const x = Object.fromEntries(
      names.map((name) => [name, given[name][0] + given[name][1] * random.normal()]),
    ) as Record<keyof typeof given, number>
    const amperes = x.torqueNm / x.k + x.noLoadA
    const heatAt20 = x.perWatt * amperes ** 2 * x.ohm
    const temperatureK = (x.ambientK + heatAt20 * (1 - 0.00393 * ROOM_K)) / (1 - 0.00393 * heatAt20)
    const warmOhm = x.ohm * (1 + 0.00393 * (temperatureK - ROOM_K))
    const backEmfV = x.k * TURN_RAD * 40
    const values = [
      (x.k * ((x.supplyV - backEmfV) / warmOhm - x.noLoadA)) / x.torqueNm,
      backEmfV + amperes * warmOhm,
      temperatureK,
      0.12 / (TURN_RAD * x.k),
    ]
    for (const [n, value] of values.entries())
      if (Math.abs(value - stated[n]!.value) <= plusMinus(stated[n]!)) inside[n]!++
  }
  expect(inside.filter((count) => count < 0.93 * draws || count > 0.99 * draws)).toEqual([])
})
