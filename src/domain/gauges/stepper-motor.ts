import { DomainError, within } from '../errors.js'
import { digits } from '../measure/digits.js'
import { exact, type Figure } from '../measure/figure.js'
import { propagate, quotient, scaled, sum } from '../measure/propagation.js'
import { type DrivenHead, motorCheck, motorSpeedPerS, reserveCheck, torquesAt } from './driven-head.js'
import type { MotorOnHead } from './motor-on-head.js'
import { type Winding, windingAt, windingChecks } from './motor-winding.js'

export interface PullOutPoint {
  readonly speedPerS: number
  readonly torqueNm: Figure
}

/** A stepper motor, with its pull-out torque as its data sheet or a test gives it. */
export interface StepperMotor {
  readonly kind: 'stepper'
  readonly name: string
  /** Steps of the driver per turn, microsteps included. */
  readonly stepsPerTurn: number
  readonly pullOut: readonly PullOutPoint[]
  /** Clock whose ticks are counted from step to step. */
  readonly timerHz: number
  /** Lowest step rate at which single steps do not show on the needle. */
  readonly minStepRateHz?: number
  /** Left out: the winding is not checked. */
  readonly phase?: Winding & { readonly currentA: Figure }
}

/** Relative rounding error allowed for: a speed given in rpm and the same one computed from the constant of the head. */
const ROUNDING = 1e-9

/** Lowest step rate without visible steps of the needle; common practice, no source. */
export const MIN_STEP_RATE_HZ = 30

/**
 * Pull-out torque of a stepper motor between the speeds at which it is known.
 *
 *     M = M₁ + (M₂ − M₁)·(n − n₁)/(n₂ − n₁);  below the lowest speed given, the torque there
 *
 * M₁ and M₂ are the torques at the neighboring speeds n₁ and n₂. Pull-out torque falls with speed, so the torque at the lowest speed
 * given is on the safe side below it.
 *
 * @param pullOut - Points, by ascending speed. Speed [1/s], torque [N.m]
 * @param speedPerS - n, at most the highest speed given. [1/s]
 * @returns M. [N.m]
 * @throws {DomainError} `out-of-range` above the highest speed given
 * @see derived: linear interpolation
 * @example pullOutTorqueNm([{ speedPerS: 10, torqueNm: exact(0.1) }, { speedPerS: 30, torqueNm: exact(0.06) }], exact(15)).value // 0.09 ± 1e-12
 * @example pullOutTorqueNm([{ speedPerS: 10, torqueNm: exact(0.1) }], exact(15)) // throws out-of-range
 */
export function pullOutTorqueNm(pullOut: readonly PullOutPoint[], speedPerS: Figure): Figure {
  const highest = pullOut.at(-1)!.speedPerS
  within('speedPerS', speedPerS.value, 0, highest * (1 + ROUNDING))
  const above = pullOut.findIndex((point) => point.speedPerS >= Math.min(speedPerS.value, highest))
  const high = pullOut[above]!
  if (above === 0) return high.torqueNm
  const low = pullOut[above - 1]!
  const width = high.speedPerS - low.speedPerS
  const share = (speedPerS.value - low.speedPerS) / width
  const rise = high.torqueNm.value - low.torqueNm.value
  return propagate(low.torqueNm.value + share * rise, [
    [low.torqueNm, 1 - share],
    [high.torqueNm, share],
    [speedPerS, rise / width],
  ])
}

/**
 * A stepper motor on a mechanical head.
 *
 *     f = z·k_h·v;  step of the reading: Δv = z·k_h·v²/f_t;  lowest speed: f_min/(z·k_h)
 *     T = Tₐ + R_th·2·I²·R_w
 *
 * z is the number of steps per turn, k_h turns of the motor per distance, f the step rate, f_t the clock that times the steps, f_min the
 * lowest step rate, I the current of each of two phases, R_w the resistance of a warm phase, Tₐ the surroundings, R_th the thermal resistance.
 *
 * A step lasts a whole number of ticks, so that neighboring speeds differ by v/(f_t/f). The head runs up as slowly as the car
 * accelerates; the pull-out torque, not the lower one for a sudden start, is what counts.
 *
 * @param motor - The motor
 * @param index - Its place in the list of motors
 * @param head - The head
 * @returns Torque at each speed, steps, and checks
 * @throws {DomainError} `readings-at-one-speed` for two torques at one speed, `out-of-range` for torques that do not reach the top speed
 * @see derived: definition of the step rate; copper standard for the winding; common practice for the lowest step rate
 * @example stepperMotorOnHead({ kind: 'stepper', name: 'a', stepsPerTurn: 200, pullOut: [{ speedPerS: 50, torqueNm: exact(0.05) }], timerHz: 1e6 }, 0, { motorTurnsPerM: exact(1), torqueNm: exact(0.01), coldTorqueNm: exact(0.02), speedsMPerS: [1, 40], creepMPerS: 1, topMPerS: 40, ambientK: exact(293.15), reserve: 1.5, maxStepMPerS: 1 }).controlStepMPerS.value // 0.32 ± 1e-12
 */
export function stepperMotorOnHead(motor: StepperMotor, index: number, head: DrivenHead): MotorOnHead {
  const at = (name: string) => `/motors/${index}/${name}`
  const pullOut = inOrderOfSpeed(motor.pullOut, at('pullOut'))
  checkReach(pullOut, motorSpeedPerS(head, head.topMPerS).value, at('pullOut'))
  const points = head.speedsMPerS.map((speedMPerS) =>
    torquesAt(head, speedMPerS, pullOutTorqueNm(pullOut, motorSpeedPerS(head, speedMPerS))),
  )
  const stepsPerM = scaled(head.motorTurnsPerM, motor.stepsPerTurn)
  const controlStepMPerS = scaled(stepsPerM, head.topMPerS ** 2 / motor.timerHz)
  const lowestSteadySpeedMPerS = quotient(exact(motor.minStepRateHz ?? MIN_STEP_RATE_HZ), stepsPerM)
  const { phase } = motor
  // Two phases carry the current, and heat the motor as one with √2 times the current would.
  const winding =
    phase === undefined ? undefined : windingAt(phase, scaled(phase.currentA, Math.SQRT2), head.ambientK)
  return {
    points,
    checks: [
      reserveCheck(head, points, at('pullOut')),
      motorCheck(
        'visible-step',
        at('timer'),
        sum(exact(head.maxStepMPerS), scaled(controlStepMPerS, -1)),
        head.maxStepMPerS,
        'At the top speed a tick of the timer moves the reading by no more than is accepted.',
      ),
      motorCheck(
        'lowest-speed',
        at('stepsPerTurn'),
        sum(exact(head.creepMPerS), scaled(lowestSteadySpeedMPerS, -1)),
        head.creepMPerS,
        'At the lowest speed the steps are too fast to be seen on the needle.',
      ),
      ...(phase === undefined
        ? []
        : windingChecks(phase, at('phase/thermalResistance'), winding?.temperatureK)),
    ],
    controlStepMPerS,
    lowestSteadySpeedMPerS,
    ...(winding === undefined ? {} : { winding }),
  }
}

function inOrderOfSpeed(given: readonly PullOutPoint[], pointer: string): PullOutPoint[] {
  const ordered = [...given].sort((a, b) => a.speedPerS - b.speedPerS)
  const twice = ordered.find(({ speedPerS }, i) => speedPerS === ordered[i - 1]?.speedPerS)
  if (twice !== undefined) {
    throw new DomainError(
      'readings-at-one-speed',
      `pullOut: expected one torque for each speed, got two at ${digits(twice.speedPerS * 60)} rpm`,
      { pointer, value: twice.speedPerS },
    )
  }
  return ordered
}

function checkReach(pullOut: readonly PullOutPoint[], topPerS: number, pointer: string): void {
  const highest = pullOut.at(-1)!.speedPerS
  if (topPerS <= highest * (1 + ROUNDING)) return
  const rpm = (perS: number) => `${digits(perS * 60, 5)} rpm`
  throw new DomainError(
    'out-of-range',
    `pullOut: expected the pull-out torque up to ${rpm(topPerS)}, the speed of the motor at the top speed, got it up to ${rpm(highest)}; measure it there, or give 0 if the motor no longer turns`,
    { pointer, min: topPerS, value: highest },
  )
}
