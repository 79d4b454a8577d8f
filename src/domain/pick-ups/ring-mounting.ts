import { DomainError } from '../errors.js'
import type { Assumption } from '../measure/assumptions.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { type ConformityResult, conformityProbability, conformityResult } from '../measure/conformity.js'
import type { Figure } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { propagate, scaled, sum } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import { standardUncertainty } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { seatIn } from './ring-fit.js'
import { type GivenJoint, type Joint, type RingDiameters, ringJoint } from './ring-joint.js'
import { type Ripple, type RippledRing, ringRipple, rippledRing, rippleNoise } from './ring-ripple.js'
import { type GivenSpin, ringSpin, type Spin } from './ring-strength.js'

export interface RingMountingRequest extends RingDiameters {
  /** Of a ring that is cut; left out: it is whole and slides on. */
  readonly joint?: GivenJoint
  readonly spin?: GivenSpin
  /** Speed of the car for the noise. */
  readonly speedMPerS?: number
}

export interface RingMountingCheck {
  readonly kind: 'goes-on' | 'grips' | 'joint-pitch' | 'hoop-stress'
  readonly text: string
  readonly probability: number
  readonly result: ConformityResult
}

export interface RingMounting {
  /** On the diameter; below zero: interference. */
  readonly clearanceM: Figure
  readonly eccentricityM: Figure
  readonly maxEccentricityM: Figure
  /** Total reading of a dial gauge over one turn: twice the eccentricity. */
  readonly runOutM: Figure
  readonly maxRunOutM: Figure
  readonly checks: readonly RingMountingCheck[]
  readonly joint?: Omit<Joint, 'count' | 'clearanceM' | 'allowedPitchErrorPercent'>
  readonly ripple: Ripple
  /** In the terms of a simulation. */
  readonly ring: RippledRing
  /** Of a speed that is read once a pulse. */
  readonly noiseMPerS?: Figure
  readonly spin?: Omit<Spin, 'safetyFactor'>
  readonly budget: readonly BudgetLine[]
  readonly assumptions: readonly Assumption[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/**
 * Mounting of a pulse ring on a spigot or shaft: whether it goes on or grips, its run-out, the ripple of the pulses, its stress and unbalance.
 *
 *     c = b − d;  run-out = 2·e,  e from 0 to c/2;  of a cut ring c = b − d + n·(g − k)/π
 *
 * b and d are the diameters of bore and shaft, c the clearance, e the eccentricity; n is the number of joints, g the gap of each, k the width removed there.
 *
 * Eccentricity, joint and stress are those of `seatIn`, `ringJoint`, `ringRipple` and `ringSpin`. The run-out of the ring itself and of the shaft come on top.
 *
 * @param request - Diameters [m], teeth; joints of a cut ring; rotational speed [1/s], width [m] and material
 * @returns Fit, eccentricity and ripple, with checks; joint and stress where they are asked for
 * @throws {DomainError} `limits-crossed` for a bore as large as the ring, `out-of-range` for a joint that closes or doubles a tooth gap
 * @see the functions it is made of; JCGM 106:2012, 7.4 (checks)
 * @example ringMounting({ boreM: exact(0.0403), shaftM: exact(0.04), outsideDiameterM: exact(0.1), pulsesPerTurn: 8 }).runOutM.value // 0.0002 ± 1e-12
 * @example ringMounting({ boreM: exact(0.0403), shaftM: exact(0.04), outsideDiameterM: exact(0.1), pulsesPerTurn: 8 }).ring.eccentricity // 0.002 ± 1e-12
 * @example ringMounting({ boreM: exact(0.12), shaftM: exact(0.04), outsideDiameterM: exact(0.1), pulsesPerTurn: 8 }) // throws limits-crossed
 */
export function ringMounting(request: RingMountingRequest): RingMounting {
  const { boreM, shaftM, outsideDiameterM, pulsesPerTurn, speedMPerS } = request
  if (boreM.value >= outsideDiameterM.value) {
    throw new DomainError(
      'limits-crossed',
      `bore: expected less than the outside diameter of ${show(outsideDiameterM.value)}, got ${show(boreM.value)}`,
      { pointer: '/bore', max: outsideDiameterM.value, value: boreM.value },
    )
  }
  const assumptions: Assumption[] = []
  const sources: SourceId[] = ['definitions', 'gum', 'jcgm-106', 'ring-mounting-practice', 'caller-reading']
  const joint = request.joint === undefined ? undefined : ringJoint(request, request.joint, assumptions)
  const clearanceM =
    joint?.clearanceM ??
    propagate(boreM.value - shaftM.value, [
      [boreM, 1],
      [shaftM, -1],
    ])
  const { eccentricityM, maxEccentricityM } = seatIn(clearanceM)
  const ripple = ringRipple(eccentricityM, outsideDiameterM, pulsesPerTurn, joint)
  const spin =
    request.spin === undefined
      ? undefined
      : ringSpin(request, request.spin, maxEccentricityM, request.joint?.screws, assumptions, sources)
  const checks = checksOf(clearanceM, joint, spin)
  const result: Mutable<RingMounting> = {
    clearanceM,
    eccentricityM,
    maxEccentricityM,
    runOutM: scaled(eccentricityM, 2),
    maxRunOutM: scaled(maxEccentricityM, 2),
    checks,
    ripple,
    ring: rippledRing(eccentricityM, outsideDiameterM, pulsesPerTurn, joint),
    budget: budget(joint === undefined ? eccentricityM : joint.pitchErrorPercent),
    assumptions,
    sources,
    notes: notesOf(request, checks, spin),
  }
  if (joint !== undefined) {
    const { gapM, gapToGripM, minGapM, maxGapM, pitchErrorPercent } = joint
    result.joint = { gapM, gapToGripM, minGapM, maxGapM, pitchErrorPercent }
  }
  if (speedMPerS !== undefined) result.noiseMPerS = rippleNoise(ripple.rmsPercent, speedMPerS)
  if (spin !== undefined) {
    const { safetyFactor: _, ...forces } = spin
    result.spin = forces
  }
  return result
}

const show = (valueM: number) => `${Number((valueM * 1000).toPrecision(5))} mm`

function check(
  kind: RingMountingCheck['kind'],
  figure: Figure,
  [lower, upper]: readonly [number, number],
  text: string,
): RingMountingCheck {
  const probability = conformityProbability(figure.value, standardUncertainty(figure), lower, upper)
  return { kind, text, probability, result: conformityResult(probability) }
}

const NOT_BELOW_ZERO = [0, Number.POSITIVE_INFINITY] as const

function checksOf(clearanceM: Figure, joint: Joint | undefined, spin: Spin | undefined): RingMountingCheck[] {
  const checks: RingMountingCheck[] = []
  if (joint === undefined) {
    checks.push(check('goes-on', clearanceM, NOT_BELOW_ZERO, 'The bore is at least as large as the shaft.'))
  } else {
    const { allowedPitchErrorPercent: allowed, pitchErrorPercent } = joint
    checks.push(
      check(
        'grips',
        scaled(clearanceM, -1),
        NOT_BELOW_ZERO,
        'The ring grips the shaft before its joint is closed to the gap.',
      ),
      check(
        'joint-pitch',
        pitchErrorPercent,
        [-allowed, allowed],
        `The tooth gap at each joint is within ${allowed} % of the pitch.`,
      ),
    )
  }
  if (spin !== undefined) {
    const { strengthPa, hoopStressPa, safetyFactor } = spin
    checks.push(
      check(
        'hoop-stress',
        sum(strengthPa, scaled(hoopStressPa, -safetyFactor)),
        NOT_BELOW_ZERO,
        `The strength is at least ${safetyFactor} times the hoop stress of a plain ring.`,
      ),
    )
  }
  return checks
}

/** What to do where a check is not passed. */
const REMEDIES: Readonly<Record<RingMountingCheck['kind'], readonly [code: string, text: string]>> = {
  'goes-on': [
    'ring-interference',
    'The ring is not proven to slide on. Have a ring that is pressed or shrunk on dimensioned and fitted by a machine shop: the interference stresses it before it turns.',
  ],
  grips: [
    'ring-does-not-grip',
    'The ring is not proven to grip: at this gap of the joint its bore may still be larger than the shaft, so it turns, moves along the shaft and works its screws loose. Close the joint further, or make the bore smaller.',
  ],
  'joint-pitch': [
    'joint-uneven',
    'The tooth gap at the joint is not proven to keep the pitch: hold each joint between minGap and maxGap. If the ring grips outside of these, its bore does not suit the shaft.',
  ],
  'hoop-stress': [
    'ring-may-burst',
    'The ring is not proven to withstand its own rotation with the factor asked for: do not run it. Use a smaller diameter, a stronger material or a slower shaft.',
  ],
}

function notesOf(
  { joint }: RingMountingRequest,
  checks: readonly RingMountingCheck[],
  spin: Spin | undefined,
): Note[] {
  const notes: Note[] = [
    cautionNote(
      'ring-thrown',
      'A ring that bursts or comes loose is thrown with the speed of its rim. Do not run a ring that is not proven: fit a guard around it, keep everyone out of its plane, and have ring and shaft balanced together. Work on propeller and half shafts, and its approval for the road, is for a licensed workshop.',
    ),
    infoNote(
      'ripple-repeats',
      'These errors repeat with every turn: a mean over pulsesPerTurn pulses removes them, an exponential filter only reduces them. Errors of the single teeth, and the run-out of the ring itself and of the shaft, come on top.',
    ),
    ...checks.filter(({ result }) => result !== 'conforms').map(({ kind }) => cautionNote(...REMEDIES[kind])),
  ]
  if (spin === undefined) {
    notes.push(
      cautionNote(
        'spin-not-checked',
        'Stress and unbalance are not computed: give spin for a shaft that turns fast.',
      ),
    )
    return notes
  }
  notes.push(
    infoNote(
      'plain-ring-stress',
      'The hoop stress is that of a plain ring. Tooth roots, screw holes and cuts raise it locally, by a factor of two to three (common practice, no source), which the safety factor has to cover.',
    ),
  )
  if (joint !== undefined) {
    const newton = Number(spin.hoopForceN.value.toPrecision(3))
    notes.push(
      cautionNote(
        'joint-screws',
        `The screws of each joint hold the hoop force, ${newton} N, beside their preload; a screw beside the ring is bent as well, and loaded by more than its share. Choose and lock them by a handbook or a machine shop. Gap and screws of a single joint are an unbalance of their own.`,
      ),
    )
  }
  return notes
}
