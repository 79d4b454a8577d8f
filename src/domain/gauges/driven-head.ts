import { type ConformityResult, conformityResult, marginProbability } from '../measure/conformity.js'
import { digits } from '../measure/digits.js'
import type { Figure } from '../measure/figure.js'
import { quotient, scaled, sum } from '../measure/propagation.js'

/** A mechanical head as the shaft of a motor sees it, through a gear if there is one. */
export interface DrivenHead {
  /** Turns of the motor per distance on the dial. */
  readonly motorTurnsPerM: Figure
  /** Torque at the shaft of the motor, warm. */
  readonly torqueNm: Figure
  /** The same in the cold. */
  readonly coldTorqueNm: Figure
  readonly speedsMPerS: readonly number[]
  readonly creepMPerS: number
  readonly topMPerS: number
  readonly ambientK: Figure
  /** Available ÷ required torque that a motor has to have. */
  readonly reserve: number
  /** Largest step or shift of the reading that is accepted. */
  readonly maxStepMPerS: number
}

export type MotorCheckKind =
  | 'torque-reserve'
  | 'rated-current'
  | 'winding-temperature'
  | 'visible-step'
  | 'reading-shift'
  | 'lowest-speed'

export interface MotorCheck {
  readonly kind: MotorCheckKind
  /** JSON Pointer of the field to change where it does not conform. */
  readonly field: string
  readonly text: string
  readonly probability: number
  readonly result: ConformityResult
}

/** The motor at one speed on the dial. */
export interface MotorPoint {
  readonly speedMPerS: number
  readonly motorSpeedPerS: Figure
  readonly requiredTorqueNm: Figure
  readonly availableTorqueNm: Figure
  readonly torqueMargin: Figure
  /** Of a DC motor. */
  readonly currentA?: Figure
  /** Of a DC motor, at its terminals. */
  readonly voltageV?: Figure
}

/**
 * Rotational speed of the motor at a speed on the dial.
 *
 *     n = v·k·g
 *
 * k is the constant of the head, g motor turns per turn of the head.
 *
 * @param head - Head with k·g, turns of the motor per distance. [1/m]
 * @param speedMPerS - v. [m/s]
 * @returns n. [1/s]
 * @see derived: definition of the constant of the head
 * @example motorSpeedPerS({ motorTurnsPerM: exact(1408 / 1609.344) }, toSi('speed', 'mph', 100)).value * 60 // 2346.666667 ± 1e-6
 */
export function motorSpeedPerS(head: Pick<DrivenHead, 'motorTurnsPerM'>, speedMPerS: number): Figure {
  return scaled(head.motorTurnsPerM, speedMPerS)
}

/** The larger of the torques, warm and cold. */
export const requiredTorqueNm = ({
  torqueNm,
  coldTorqueNm,
}: Pick<DrivenHead, 'torqueNm' | 'coldTorqueNm'>): Figure =>
  coldTorqueNm.value > torqueNm.value ? coldTorqueNm : torqueNm

/**
 * Torque that a motor has and that the head needs, at one speed on the dial.
 *
 *     margin = M_available/M_required
 *
 * M is a torque at the shaft of the motor; the head needs the larger of that warm and that in the cold.
 *
 * @param head - The head
 * @param speedMPerS - Speed on the dial. [m/s]
 * @param availableTorqueNm - M_available. [N.m]
 * @returns Both torques and their ratio
 * @throws {DomainError} `not-finite` for a head without torque
 * @see derived: definition of the margin
 * @example torquesAt({ motorTurnsPerM: exact(1), torqueNm: exact(0.002), coldTorqueNm: exact(0.004) }, 1, exact(0.01)).torqueMargin.value // 2.5 ± 1e-12
 */
export function torquesAt(
  head: Pick<DrivenHead, 'motorTurnsPerM' | 'torqueNm' | 'coldTorqueNm'>,
  speedMPerS: number,
  availableTorqueNm: Figure,
): MotorPoint {
  const required = requiredTorqueNm(head)
  return {
    speedMPerS,
    motorSpeedPerS: motorSpeedPerS(head, speedMPerS),
    requiredTorqueNm: required,
    availableTorqueNm,
    torqueMargin: quotient(availableTorqueNm, required),
  }
}

/**
 * Judges one thing that has to hold for a motor to serve.
 *
 *     p = P(m ≥ 0)
 *
 * m is the margin of a quantity inside its limit.
 *
 * @param kind - What is checked
 * @param field - JSON Pointer of the field to change
 * @param margin - m, any unit; undefined where the check cannot hold
 * @param limit - The limit, which scales the rounding allowed; same unit
 * @param text - What holds if it conforms
 * @returns The check with its probability
 * @throws {DomainError} `not-finite`
 * @see JCGM 106:2012, 7.4 eq. (10)
 * @example motorCheck('rated-current', '/motors/0/ratedCurrent', uncertain(0, 'I', 1), 1, '').probability // 0.5 ± 1e-9
 */
export function motorCheck(
  kind: MotorCheckKind,
  field: string,
  margin: Figure | undefined,
  limit: number,
  text: string,
): MotorCheck {
  const probability = margin === undefined ? 0 : marginProbability(margin, limit)
  return { kind, field, text, probability, result: conformityResult(probability) }
}

/**
 * Judges the torque at the speed at which it is least likely to suffice.
 *
 *     M_available ≥ reserve · M_required
 *
 * M is a torque at the shaft of the motor.
 *
 * @param head - The head, with the reserve
 * @param points - Torques at each speed, at least one
 * @param field - JSON Pointer of the field to change
 * @returns The check
 * @throws {DomainError} `not-finite`
 * @see JCGM 106:2012, 7.4 eq. (10); common practice for the reserve
 * @example reserveCheck({ reserve: 2 }, [torquesAt({ motorTurnsPerM: exact(1), torqueNm: exact(1), coldTorqueNm: exact(1) }, 1, exact(1.9))], '/supply/min').result // "does-not-conform"
 */
export function reserveCheck(
  head: Pick<DrivenHead, 'reserve'>,
  points: readonly MotorPoint[],
  field: string,
): MotorCheck {
  return points
    .map(({ availableTorqueNm, requiredTorqueNm: required }) =>
      motorCheck(
        'torque-reserve',
        field,
        sum(availableTorqueNm, scaled(required, -head.reserve)),
        availableTorqueNm.value,
        `At every speed the motor has at least ${digits(head.reserve)} times the torque that the head needs.`,
      ),
    )
    .reduce((worst, one) => (one.probability < worst.probability ? one : worst))
}
