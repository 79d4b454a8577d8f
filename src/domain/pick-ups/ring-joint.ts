import { DomainError } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { exact, type Figure } from '../measure/figure.js'
import { propagate, quotient, scaled, sum } from '../measure/propagation.js'

/** How a ring is cut so that it goes round a shaft. */
export interface GivenJoint {
  /** 1: cut once and opened; 2: in halves. */
  readonly count: number
  /** Width that each cut took out of the circumference, or that each joint of a ring made in parts is designed for. */
  readonly removedM: Figure
  /** Gap of each joint on the shaft. */
  readonly gapM?: Figure
  /** Allowed error of the pitch at a joint [%]. */
  readonly allowedPitchErrorPercent?: number
  /** Screws of each joint. */
  readonly screws?: number
}

export interface Joint {
  readonly count: number
  /** On the diameter, with the joints at their gap; below zero: the ring grips. */
  readonly clearanceM: Figure
  readonly gapM: Figure
  /** Gap at which the ring begins to grip the shaft; below zero: it does not grip. */
  readonly gapToGripM: Figure
  /** Gaps that keep the pitch within the allowed error. */
  readonly minGapM: Figure
  readonly maxGapM: Figure
  /** Extra width of the tooth gap at a joint over the mean pitch [%]. */
  readonly pitchErrorPercent: Figure
  readonly allowedPitchErrorPercent: number
}

/** Diameters of a ring, and the number of its teeth or slots. */
export interface RingDiameters {
  readonly boreM: Figure
  readonly shaftM: Figure
  readonly outsideDiameterM: Figure
  readonly pulsesPerTurn: number
}

/** Maximum error of a gap that a simulation takes, as a share of the pitch. */
const MAX_GAP_ERROR = 0.9

/**
 * Excess of a joint over the width removed that gives the tooth gap there an error.
 *
 *     δ = a·p/(1 − a·n/N),  p = π·D/N
 *
 * a is the error as a share of the mean pitch, n the number of joints, N that of the teeth, D the outside diameter.
 *
 * The joint lengthens the circumference, so the mean pitch is p + n·δ/N.
 *
 * @param outsideDiameterM - D, of the ring before the cut. [m]
 * @param pulsesPerTurn - N. [1 .. 1000]
 * @param count - n. [1 .. N]
 * @param error - a. [−0.9 .. 0.9]
 * @returns δ [m]
 * @throws {DomainError} `not-finite`
 * @see derived: the gaps of a ring share one full turn
 * @example jointExcess(exact(0.1 / Math.PI), 10, 2, 0.5).value // 0.00555556 ± 1e-8
 */
export function jointExcess(
  outsideDiameterM: Figure,
  pulsesPerTurn: number,
  count: number,
  error: number,
): Figure {
  const share = (Math.PI * error) / pulsesPerTurn
  return scaled(outsideDiameterM, share / (1 - (error * count) / pulsesPerTurn))
}

/**
 * Joint of a cut ring: its gap on the shaft, the gaps that keep the pitch, and the error that the gap leaves.
 *
 *     j = δ/(p + n·δ/N),  δ = g − k,  p = π·D/N;  c = b − d + n·δ/π,  grips at g = k − π·(b − d)/n
 *
 * g is the gap of each joint, k the width removed there, c the clearance with the joints at their gap, n the number of joints, N that of the teeth, D, b and d the diameters of the ring
 * outside, of its bore and of the shaft.
 *
 * The ring follows the shaft: its bore keeps its length around the circumference. A stiff half does not follow, and touches in places only.
 *
 * @param diameters - Bore, shaft and outside diameter [m], teeth
 * @param given - Joints: number, width removed [m], gap [m] if it is known
 * @param taken - Assumptions of the answer; gets one more for each value left out
 * @returns Gaps and clearance [m], pitch error [%]
 * @throws {DomainError} `out-of-range` for fewer teeth than joints, or a joint that widens or closes a tooth gap by more than 90 %
 * @see derived: the bore keeps its length; allowed pitch error: common practice
 * @example ringJoint({ boreM: exact(0.04), shaftM: exact(0.04), outsideDiameterM: exact(0.1 / Math.PI), pulsesPerTurn: 10 }, { count: 2, removedM: exact(0.001), gapM: exact(0.002) }, []).pitchErrorPercent.value // 9.803922 ± 1e-6
 */
export function ringJoint(diameters: RingDiameters, given: GivenJoint, taken: Assumption[]): Joint {
  const { boreM, shaftM, outsideDiameterM, pulsesPerTurn } = diameters
  const { count, removedM } = given
  if (pulsesPerTurn < count) {
    throw new DomainError(
      'out-of-range',
      `pulsesPerTurn: expected at least ${count}, one gap for each joint, got ${pulsesPerTurn}`,
      { pointer: '/pulsesPerTurn', min: count, value: pulsesPerTurn },
    )
  }
  const allowedPitchErrorPercent = assumed(
    given.allowedPitchErrorPercent,
    2,
    { field: '/joint/allowedPitchErrorPercent', value: '2 % of the pitch', standing: 'common-practice' },
    taken,
  )
  const gapToGripM = propagate(removedM.value - (Math.PI * (boreM.value - shaftM.value)) / count, [
    [removedM, 1],
    [boreM, -Math.PI / count],
    [shaftM, Math.PI / count],
  ])
  const grips = gapToGripM.value > 0
  const gapM = assumed(
    given.gapM,
    grips ? gapToGripM : exact(0),
    {
      field: '/joint/gap',
      value: grips ? 'the gap at which the ring grips the shaft' : '0: closed, before the ring grips',
      standing: 'derived',
    },
    taken,
  )
  const excessM = sum(gapM, scaled(removedM, -1))
  const excessFor = (error: number) => jointExcess(outsideDiameterM, pulsesPerTurn, count, error)
  const [lowestM, highestM] = [excessFor(-MAX_GAP_ERROR).value, excessFor(MAX_GAP_ERROR).value]
  if (excessM.value < lowestM || excessM.value > highestM) {
    const mm = (valueM: number) => `${Number((valueM * 1000).toPrecision(4))} mm`
    const [min, max] = [Math.max(0, removedM.value + lowestM), removedM.value + highestM]
    throw new DomainError(
      'out-of-range',
      given.gapM === undefined
        ? `joint: the ring grips the shaft at a gap of ${mm(gapM.value)}; expected ${mm(min)} to ${mm(max)}, so that no tooth gap is wider or narrower by more than 90 % of the pitch: correct bore, shaft or removed`
        : `joint.gap: expected ${mm(min)} to ${mm(max)}, so that no tooth gap is wider or narrower by more than 90 % of the pitch, got ${mm(gapM.value)}`,
      { pointer: given.gapM === undefined ? '/joint' : '/joint/gap', min, max, value: gapM.value },
    )
  }
  const meanPitchM = sum(
    scaled(outsideDiameterM, Math.PI / pulsesPerTurn),
    scaled(excessM, count / pulsesPerTurn),
  )
  const minGapM = sum(removedM, excessFor(-allowedPitchErrorPercent / 100))
  return {
    count,
    clearanceM: jointClearance(diameters, given, { gapM, gapToGripM }),
    gapM,
    gapToGripM,
    minGapM: minGapM.value < 0 ? exact(0) : minGapM,
    maxGapM: sum(removedM, excessFor(allowedPitchErrorPercent / 100)),
    pitchErrorPercent: scaled(quotient(excessM, meanPitchM), 100),
    allowedPitchErrorPercent,
  }
}

/** Clearance of a cut ring on the mean diameter; without a gap given it grips, or is closed as far as it goes. */
function jointClearance(
  { boreM, shaftM }: Pick<RingDiameters, 'boreM' | 'shaftM'>,
  { count, removedM, gapM: givenM }: GivenJoint,
  { gapM, gapToGripM }: Pick<Joint, 'gapM' | 'gapToGripM'>,
): Figure {
  if (givenM === undefined && gapToGripM.value > 0) return exact(0)
  return propagate(boreM.value - shaftM.value + (count * (gapM.value - removedM.value)) / Math.PI, [
    [boreM, 1],
    [shaftM, -1],
    [gapM, count / Math.PI],
    [removedM, -count / Math.PI],
  ])
}
