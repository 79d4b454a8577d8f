import { DomainError } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { type ConformityResult, conformityResult } from '../measure/conformity.js'
import { digits } from '../measure/digits.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { product, quotient, scaled } from '../measure/propagation.js'
import type { Traced } from '../measure/provenance.js'
import type { SourceId } from '../measure/sources.js'
import { fromSi, toSi } from '../measure/units.js'
import { RECORD_CAUTION } from '../odometers/record-caution.js'
import { type DcMotor, dcMotorOnHead, type MotorSupply } from './dc-motor.js'
import type { DrivenHead } from './driven-head.js'
import type { MotorOnHead } from './motor-on-head.js'
import { MIN_STEP_RATE_HZ, type StepperMotor, stepperMotorOnHead } from './stepper-motor.js'

export type Motor = DcMotor | StepperMotor

export interface MotorDriveRequest {
  readonly head: {
    readonly constantPerM: Figure
    readonly torqueNm: Figure
    readonly coldTorqueNm?: Figure
    /** A linear scale: angles of zero and of the last mark, and the last mark. */
    readonly dial?: { readonly startRad: number; readonly endRad: number; readonly maxMPerS: number }
  }
  readonly speeds: { readonly creepMPerS: number; readonly topMPerS: number }
  readonly supply: MotorSupply
  /** Left out: the motor turns the head directly. */
  readonly gear?: { readonly motorTurnsPerHeadTurn: Figure; readonly efficiency?: Figure }
  readonly ambientK?: Figure
  readonly minTorqueMargin?: number
  readonly maxStepMPerS?: number
  readonly motors: readonly Motor[]
}

export interface HeadSpeed {
  readonly speedMPerS: number
  readonly headSpeedPerS: Figure
}

export interface JudgedMotor extends MotorOnHead {
  readonly name: string
  readonly verdict: ConformityResult
  /** With a dial. */
  readonly controlStepAngleRad?: Figure
  /** Of the torque margin at the top speed. */
  readonly budget: readonly BudgetLine[]
}

export interface MotorDrive extends Traced {
  readonly headSpeeds: readonly HeadSpeed[]
  readonly motors: readonly JudgedMotor[]
  readonly assumptions: readonly Assumption[]
}

/** Number of speeds in an answer, from creep to top. */
const SPEEDS = 5

/**
 * Which of several electric motors serve to drive a mechanical head, and what limits the others.
 *
 *     n = k·v turns of the head;  margin = M_available/M_required ≥ 1.5 from creep to top
 *     M_required = M_head/(g·η)
 *
 * k is the constant of the head, v the speed on the dial, g motor turns per turn of the head, η the efficiency of the gear, M_available and
 * M_required torques at the shaft of the motor, M_head that at the head: the larger of that warm and that in the cold. `dcMotorOnHead`
 * and `stepperMotorOnHead` give the available torque.
 *
 * @param request - Head, speeds [m/s], supply [V], gear, motors
 * @returns Speeds of the head; torque, steps, winding and checks of each motor
 * @throws {DomainError} `limits-crossed` for swapped speeds or voltages, and as `dcMotorOnHead` and `stepperMotorOnHead`
 * @see derived: definition of the constant of the head; textbook: permanent-magnet DC motor; common practice for the margins
 * @example motorDrive({ head: { constantPerM: exact(1408 / 1609.344), torqueNm: exact(0.004) }, speeds: { creepMPerS: 1, topMPerS: toSi('speed', 'mph', 100) }, supply: { minV: exact(10), maxV: exact(14) }, motors: [] }).headSpeeds[4].headSpeedPerS.value * 60 // 2346.666667 ± 1e-6
 */
export function motorDrive(request: MotorDriveRequest): MotorDrive {
  const taken: Assumption[] = []
  const { head, supply, motors } = request
  checkOrder(request)
  const driven = drivenHead(request, taken)
  const judged = motors.map((motor, index): JudgedMotor => {
    const onHead =
      motor.kind === 'dc'
        ? dcMotorOnHead(motor, index, driven, supply)
        : stepperMotorOnHead(motor, index, driven)
    const angleRad = stepAngleRad(head.dial, onHead.controlStepMPerS)
    return {
      name: motor.name,
      ...onHead,
      verdict: conformityResult(Math.min(...onHead.checks.map(({ probability }) => probability))),
      ...(angleRad === undefined ? {} : { controlStepAngleRad: angleRad }),
      budget: budget(onHead.points.at(-1)!.torqueMargin),
    }
  })
  return {
    headSpeeds: driven.speedsMPerS.map((speedMPerS) => ({
      speedMPerS,
      headSpeedPerS: scaled(head.constantPerM, speedMPerS),
    })),
    motors: judged,
    assumptions: [...taken, ...motors.flatMap(motorAssumptions)],
    sources: sourcesOf(motors),
    notes: notesOf(motors, judged),
  }
}

function checkOrder({ speeds, supply }: MotorDriveRequest): void {
  const mph = (speedMPerS: number) => `${digits(fromSi('speed', 'mph', speedMPerS))} mph`
  if (speeds.creepMPerS >= speeds.topMPerS) {
    throw new DomainError(
      'limits-crossed',
      `speeds.creep: expected less than speeds.top, ${mph(speeds.topMPerS)}, got ${mph(speeds.creepMPerS)}`,
      { pointer: '/speeds/creep', max: speeds.topMPerS, value: speeds.creepMPerS },
    )
  }
  if (supply.minV.value > supply.maxV.value) {
    throw new DomainError(
      'limits-crossed',
      `supply.min: expected at most supply.max, ${digits(supply.maxV.value)} V, got ${digits(supply.minV.value)} V`,
      { pointer: '/supply/min', max: supply.maxV.value, value: supply.minV.value },
    )
  }
}

function drivenHead(request: MotorDriveRequest, taken: Assumption[]): DrivenHead {
  const { head, gear, speeds } = request
  const { creepMPerS, topMPerS } = speeds
  const practice = (field: string, value: string) => ({ field, value, standing: 'common-practice' as const })
  const ratio = gear?.motorTurnsPerHeadTurn ?? exact(1)
  const efficiency =
    gear === undefined
      ? exact(1)
      : assumed(
          gear.efficiency,
          uncertain(0.9, 'gear: efficiency', 0.025),
          practice('/gear/efficiency', '0.9 ± 0.05'),
          taken,
        )
  const torqueNm = quotient(head.torqueNm, product(ratio, efficiency))
  const coldTorqueNm = assumed(
    head.coldTorqueNm,
    scaled(head.torqueNm, COLD_PER_WARM),
    practice('/head/coldTorque', `${COLD_PER_WARM} times the torque when warm`),
    taken,
  )
  return {
    motorTurnsPerM: product(head.constantPerM, ratio),
    torqueNm,
    coldTorqueNm: quotient(coldTorqueNm, product(ratio, efficiency)),
    speedsMPerS: Array.from({ length: SPEEDS }, (_, i) => {
      const share = i / (SPEEDS - 1)
      return creepMPerS * (1 - share) + topMPerS * share
    }),
    creepMPerS,
    topMPerS,
    ambientK: assumed(
      request.ambientK,
      uncertain(313.15, 'ambient', 10),
      practice('/ambient', '40 ± 20 °C'),
      taken,
    ),
    reserve: assumed(request.minTorqueMargin, 1.5, practice('/minTorqueMargin', '1.5'), taken),
    maxStepMPerS: assumed(
      request.maxStepMPerS,
      toSi('speed', 'mph', 1),
      practice('/maxStep', '1 mph'),
      taken,
    ),
  }
}

/** Torque of a head with stiff grease ÷ torque warm; common practice, no source. */
const COLD_PER_WARM = 2

function stepAngleRad(dial: MotorDriveRequest['head']['dial'], stepMPerS: Figure): Figure | undefined {
  if (dial === undefined) return undefined
  return scaled(stepMPerS, Math.abs(dial.endRad - dial.startRad) / dial.maxMPerS)
}

function motorAssumptions(motor: Motor, index: number): Assumption[] {
  const found: Assumption[] = []
  const winding = motor.kind === 'dc' ? motor.winding : motor.phase
  if (winding !== undefined && winding.maxTemperatureK === undefined) {
    found.push({
      field: `/motors/${index}/${motor.kind === 'dc' ? 'winding' : 'phase'}/maxTemperature`,
      value: '105 °C: insulation of class 105',
      standing: 'from-memory',
    })
  }
  if (motor.kind === 'stepper' && motor.minStepRateHz === undefined) {
    found.push({
      field: `/motors/${index}/minStepRate`,
      value: `${MIN_STEP_RATE_HZ} Hz`,
      standing: 'common-practice',
    })
  }
  return found
}

function sourcesOf(motors: readonly Motor[]): SourceId[] {
  const sources: SourceId[] = ['definitions', 'gum', 'caller-reading', 'motor-practice', 'us-49-usc-32703']
  if (motors.some(({ kind }) => kind === 'dc')) sources.push('permanent-magnet-motor')
  if (motors.some((motor) => motor.kind === 'dc' || motor.phase !== undefined))
    sources.push('annealed-copper')
  if (motors.some((motor) => (motor.kind === 'dc' ? motor.winding : motor.phase) !== undefined))
    sources.push('iec-60085')
  return sources
}

function notesOf(motors: readonly Motor[], judged: readonly MotorOnHead[]): Note[] {
  const stallA = Math.max(0, ...judged.map(({ stallCurrentA }) => stallCurrentA?.value ?? 0))
  const notes = [
    cautionNote(
      'moving-mechanism',
      'Disconnect the supply before you touch the head or the gear: the motor starts without warning, and its mechanism catches fingers, sleeves and leads.',
    ),
    cautionNote(
      'motor-fuse',
      `Feed the motor through a fuse of its own close to where the feed branches off, and choose wire for that fuse (POST /v1/electrics/wire).${
        stallA > 0 ? ` A blocked motor draws up to ${digits(stallA, 3)} A.` : ''
      }`,
    ),
    cautionNote(
      'motor-stops',
      'A motor that stalls or loses steps lets the dial under-read, without any other sign. Compare the dial with a reference speed, cold and warm.',
    ),
    RECORD_CAUTION,
    infoNote(
      'motor-noise',
      'Motor and gear can be heard in the car and can disturb a radio; neither is computed. A soft mount, a lower motor speed and suppression capacitors at the terminals help.',
    ),
  ]
  if (motors.some((motor) => motor.kind === 'dc' && motor.control === 'voltage')) {
    notes.push(
      infoNote(
        'regulated-voltage',
        'A motor controlled by its voltage follows every change of the supply: set the voltage from a regulated supply, or control the speed by feedback.',
      ),
    )
  }
  return notes
}
