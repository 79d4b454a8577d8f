import { DomainError } from '../errors.js'
import { digits } from '../measure/digits.js'
import { exact, type Figure } from '../measure/figure.js'
import { product, quotient, scaled, sum } from '../measure/propagation.js'
import {
  type DrivenHead,
  type MotorPoint,
  motorCheck,
  motorSpeedPerS,
  requiredTorqueNm,
  reserveCheck,
  torquesAt,
} from './driven-head.js'
import type { MotorOnHead } from './motor-on-head.js'
import { type Winding, windingAt, windingChecks } from './motor-winding.js'

/** A permanent-magnet DC motor; its constant is given, or follows from its no-load speed at a voltage. */
export type DcMotor = {
  readonly kind: 'dc'
  readonly name: string
  /** Of the winding at 20 Cel. */
  readonly resistanceOhm: Figure
  readonly noLoadCurrentA: Figure
  /** Steps of the voltage from zero to that of the supply. */
  readonly levels: number
  readonly control: 'voltage' | 'speed'
  readonly ratedCurrentA?: number
  /** Left out: the winding is taken as warm as its surroundings, and not checked. */
  readonly winding?: Omit<Winding, 'resistanceOhm'>
} & ({ readonly constantNmPerA: Figure } | { readonly voltageV: Figure; readonly noLoadSpeedPerS: Figure })

export interface MotorSupply {
  readonly minV: Figure
  readonly maxV: Figure
}

/**
 * Constant of a permanent-magnet DC motor from its speed without load.
 *
 *     k = (U − I₀·R)/(2π·n₀)
 *
 * U is the voltage, I₀ the current and n₀ the speed without load, R the resistance of the winding. k is the back-EMF per angular
 * speed [V s/rad], which is also the torque per current [N m/A].
 *
 * @param voltageV - U. [V]
 * @param noLoadSpeedPerS - n₀. [1/s]
 * @param noLoadCurrentA - I₀. [A]
 * @param resistanceOhm - R. [ohm]
 * @returns k. [N.m/A]
 * @see textbook: permanent-magnet DC motor
 * @example motorConstantNmPerA(exact(12), exact(50), exact(0.1), exact(10)).value // 0.035014087 ± 1e-9
 */
export function motorConstantNmPerA(
  voltageV: Figure,
  noLoadSpeedPerS: Figure,
  noLoadCurrentA: Figure,
  resistanceOhm: Figure,
): Figure {
  return quotient(
    sum(voltageV, scaled(product(noLoadCurrentA, resistanceOhm), -1)),
    scaled(noLoadSpeedPerS, 2 * Math.PI),
  )
}

/**
 * Torque of a permanent-magnet DC motor at a voltage and a speed.
 *
 *     M = k·((U − k·ω)/R − I₀),  ω = 2π·n;  solved for the speed: ω = (U − I·R)/k with I = M/k + I₀
 *
 * k is the constant of the motor, R the resistance of its winding, I₀ its current without load, which is taken as the same at every speed.
 *
 * @param voltageV - U. [V]
 * @param speedPerS - n. [1/s]
 * @param motor - k [N.m/A], R [ohm], I₀ [A]
 * @returns M, below zero above the speed without load. [N.m]
 * @see textbook: permanent-magnet DC motor
 * @example dcTorqueNm(exact(12), exact(0), { constantNmPerA: exact(0.035), resistanceOhm: exact(10), noLoadCurrentA: exact(0.1) }).value // 0.0385 ± 1e-12
 */
export function dcTorqueNm(
  voltageV: Figure,
  speedPerS: Figure,
  motor: {
    readonly constantNmPerA: Figure
    readonly resistanceOhm: Figure
    readonly noLoadCurrentA: Figure
  },
): Figure {
  const { constantNmPerA, resistanceOhm, noLoadCurrentA } = motor
  const backEmfV = product(constantNmPerA, scaled(speedPerS, 2 * Math.PI))
  const currentA = sum(
    quotient(sum(voltageV, scaled(backEmfV, -1)), resistanceOhm),
    scaled(noLoadCurrentA, -1),
  )
  return product(constantNmPerA, currentA)
}

/**
 * A DC motor on a mechanical head.
 *
 *     I = M/k + I₀;  U = k·ω + I·R_w;  R_w = R·(1 + α·(T − 20 °C)),  T = Tₐ + R_th·I²·R_w
 *     step: Δv = U_max/(levels·2π·k·k_h);  shift: Δv = |M_cold − M|·R_w/(2π·k²·k_h)
 *
 * k is the constant of the motor, ω its angular speed, M the torque of the head at its shaft, I₀ the current without load, R the resistance of the winding at
 * 20 °C, α the temperature coefficient of copper, Tₐ the surroundings, R_th the thermal resistance, k_h turns of the motor per distance.
 *
 * The shift is the change of the reading between a cold and a warm head at one voltage; below a speed as large as the shift the motor
 * can stop. Feedback of the speed removes it. The magnets are taken as equally strong at every temperature.
 *
 * @param motor - The motor
 * @param index - Its place in the list of motors
 * @param head - The head
 * @param supply - Lowest and highest voltage at the motor. [V]
 * @returns Torque, current and voltage at each speed, steps, and checks
 * @throws {DomainError} `limits-crossed` for a current without load that takes the whole voltage
 * @see textbook: permanent-magnet DC motor; copper standard for α
 * @example dcMotorOnHead({ kind: 'dc', name: 'a', constantNmPerA: exact(0.03), resistanceOhm: exact(10), noLoadCurrentA: exact(0.05), levels: 100, control: 'speed' }, 0, { motorTurnsPerM: exact(1), torqueNm: exact(0.003), coldTorqueNm: exact(0.003), speedsMPerS: [1, 40], creepMPerS: 1, topMPerS: 40, ambientK: exact(293.15), reserve: 1.5, maxStepMPerS: 1 }, { minV: exact(10), maxV: exact(12) }).points[1].voltageV.value // 9.039822 ± 1e-6
 */
export function dcMotorOnHead(
  motor: DcMotor,
  index: number,
  head: DrivenHead,
  supply: MotorSupply,
): MotorOnHead {
  const at = (name: string) => `/motors/${index}/${name}`
  const constantNmPerA = constantOf(motor, at('noLoadCurrent'))
  const { noLoadCurrentA, ratedCurrentA, levels, control } = motor
  const torqueNm = requiredTorqueNm(head)
  const currentA = sum(quotient(torqueNm, constantNmPerA), noLoadCurrentA)
  const ofMotor = { resistanceOhm: motor.resistanceOhm, ...motor.winding }
  const winding = windingAt(ofMotor, currentA, head.ambientK)
  const { resistanceOhm } = winding
  const points = head.speedsMPerS.map((speedMPerS): MotorPoint => {
    const speedPerS = motorSpeedPerS(head, speedMPerS)
    const available = dcTorqueNm(supply.minV, speedPerS, { constantNmPerA, resistanceOhm, noLoadCurrentA })
    return {
      ...torquesAt(head, speedMPerS, available),
      currentA,
      voltageV: sum(
        product(constantNmPerA, scaled(speedPerS, 2 * Math.PI)),
        product(currentA, resistanceOhm),
      ),
    }
  })
  const perVoltageMPerS = (voltageV: Figure) =>
    quotient(voltageV, scaled(product(constantNmPerA, head.motorTurnsPerM), 2 * Math.PI))
  const controlStepMPerS = perVoltageMPerS(scaled(supply.maxV, 1 / levels))
  const difference = sum(head.coldTorqueNm, scaled(head.torqueNm, -1))
  const shift = perVoltageMPerS(
    quotient(product(scaled(difference, difference.value < 0 ? -1 : 1), resistanceOhm), constantNmPerA),
  )
  const byVoltage = control === 'voltage'
  const lowest = byVoltage && shift.value > controlStepMPerS.value ? shift : controlStepMPerS
  const within = (limit: number, figure: Figure) => sum(exact(limit), scaled(figure, -1))
  const checks = [
    reserveCheck(head, points, '/supply/min'),
    motorCheck(
      'visible-step',
      at('levels'),
      within(head.maxStepMPerS, controlStepMPerS),
      head.maxStepMPerS,
      'A step of the voltage moves the reading by no more than is accepted.',
    ),
    motorCheck(
      'lowest-speed',
      at(lowest === shift ? 'control' : 'levels'),
      within(head.creepMPerS, lowest),
      head.creepMPerS,
      'The motor turns steadily at the lowest speed.',
    ),
  ]
  if (byVoltage) {
    checks.push(
      motorCheck(
        'reading-shift',
        at('control'),
        within(head.maxStepMPerS, shift),
        head.maxStepMPerS,
        'Between a cold and a warm head the reading shifts by no more than is accepted.',
      ),
    )
  }
  if (ratedCurrentA !== undefined) {
    checks.push(
      motorCheck(
        'rated-current',
        at('ratedCurrent'),
        within(ratedCurrentA, currentA),
        ratedCurrentA,
        `The current is at most ${digits(ratedCurrentA)} A.`,
      ),
    )
  }
  return {
    points,
    checks: [...checks, ...windingChecks(ofMotor, at('winding/thermalResistance'), winding.temperatureK)],
    controlStepMPerS,
    lowestSteadySpeedMPerS: lowest,
    ...(byVoltage ? { readingShiftMPerS: shift } : {}),
    constantNmPerA,
    stallCurrentA: quotient(supply.maxV, motor.resistanceOhm),
    winding,
  }
}

function constantOf(motor: DcMotor, pointer: string): Figure {
  if ('constantNmPerA' in motor) return motor.constantNmPerA
  const { voltageV, noLoadSpeedPerS, noLoadCurrentA, resistanceOhm } = motor
  const dropV = noLoadCurrentA.value * resistanceOhm.value
  if (dropV >= voltageV.value) {
    throw new DomainError(
      'limits-crossed',
      `noLoadCurrent: expected less than voltage ÷ resistance, ${digits(voltageV.value / resistanceOhm.value)} A, got ${digits(noLoadCurrentA.value)} A`,
      { pointer, max: voltageV.value / resistanceOhm.value, value: noLoadCurrentA.value },
    )
  }
  return motorConstantNmPerA(voltageV, noLoadSpeedPerS, noLoadCurrentA, resistanceOhm)
}
