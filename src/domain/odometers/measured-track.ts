import { odometerErrorPercent } from '../drive-paths/path.js'
import { withPointer } from '../errors.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { countUncertainty } from '../measure/counting.js'
import { type Figure, type Reading, statesUncertainty, uncertain } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { quotient, sum } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import type { TrackPoint } from './geodesic.js'
import { RECORD_CAUTION } from './record-caution.js'
import { movedAcross, type TrackLength, trackLength } from './track.js'
import type { Gap } from './track-parts.js'
import { standingS } from './track-stands.js'

/** What was counted from the first point to the last. */
export type Counted =
  | { readonly pulses: number }
  | {
      readonly turns: number
      /** Smallest part of a turn that was read; left out: 1. */
      readonly resolution?: number
    }
  /** Distance by the odometer. */
  | { readonly indicatedM: Reading }

export interface TrackToMeasure {
  /** Points in order of travel; a new segment where the recording broke off. */
  readonly segments: ReadonlyArray<readonly TrackPoint[]>
  readonly counted?: Counted
  /** Radius around the true position that contains 95 % of the recorded ones; left out: 8 m. */
  readonly accuracyM?: number
}

/** What a count gives over the length of a track; empty where the car moved while it was not recorded. */
export interface TrackCount {
  readonly pulsesPerM?: Figure
  readonly turnsPerM?: Figure
  readonly odometerPerTrue?: Figure
  readonly odometerErrorPercent?: number
  readonly odometerErrorPlusMinusPercent?: number
}

export interface MeasuredTrack extends TrackCount {
  readonly lengthM: Figure
  readonly recorded: {
    readonly lengthM: number
    readonly points: number
    /** Noise of a position, per axis, k = 1; absent: too few points. */
    readonly noiseM?: number
    readonly errorPercent: number
  }
  readonly standstill: { readonly stops: number; readonly durationS: number }
  readonly thinning: {
    readonly minSpacingM: number
    readonly pointsUsed: number
    readonly lengthM: number
    readonly noiseAddedM: number
    readonly bendsCutM: number
  }
  /** Uncertainty from noise and bends that remains, 95 %. */
  readonly residualPlusMinusPercent: number
  readonly parts: TrackLength['parts']
  readonly gaps: ReadonlyArray<{
    readonly afterPart: number
    readonly distanceM: number
    readonly durationS?: number
    /** Whether the car moved meanwhile. */
    readonly moved: boolean
  }>
  readonly discarded: readonly number[]
  /** Of the result of the count where there is one, else of the length. */
  readonly budget: readonly BudgetLine[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Default radius that contains 95 % of the positions [m]. */
const DEFAULT_ACCURACY_M = 8

/** Ratio of that radius to the standard deviation per axis, for a circular normal distribution: √(−2 ln 0.05). */
const RADIUS_95 = Math.sqrt(-2 * Math.log(0.05))

/** Maximum number of parts, gaps and omitted points listed. */
const MAX_LISTED = 1000

const ACCURACY_ASSUMED: Note = infoNote(
  'accuracy-assumed',
  `No accuracy of the positions was given: ${DEFAULT_ACCURACY_M} m at 95 % is assumed.`,
)
const MOVED_WHILE_NOT_RECORDED: Note = cautionNote(
  'moved-while-not-recorded',
  'The car moved during a gap in the recording, so the count does not match the recorded length: the answer has no count per distance. Count and record over one unbroken drive.',
)
const TAKEN_AS_EXACT: Note = infoNote(
  'odometer-taken-as-exact',
  'The odometer distance carries no uncertainty: give plusMinus, at least half of the last digit read.',
)

const countOf = (counted: Exclude<Counted, { indicatedM: Figure }>): Figure =>
  'pulses' in counted
    ? uncertain(counted.pulses, 'pulses: resolution of the count', countUncertainty(1))
    : uncertain(counted.turns, 'turns: resolution of the reading', countUncertainty(counted.resolution ?? 1))

interface Count {
  readonly count: TrackCount
  readonly budget: readonly BudgetLine[]
  readonly notes: readonly Note[]
}

function countedOver(counted: Counted, track: TrackLength, uPositionM: number): Count | Note {
  if (track.gaps.some((gap) => movedAcross(gap, uPositionM))) return MOVED_WHILE_NOT_RECORDED
  // Gaps during which the car stood: the scatter of the positions may have been driven.
  const stood = track.gaps.reduce((total, { acrossM }) => total + acrossM, 0)
  const lengthM = sum(track.lengthM, uncertain(0, 'track: recording gaps during stops', stood / Math.sqrt(3)))
  if ('indicatedM' in counted) {
    const odometerPerTrue = quotient(counted.indicatedM, lengthM)
    const error = odometerErrorPercent(odometerPerTrue)
    return {
      count: {
        odometerPerTrue,
        odometerErrorPercent: error.value,
        odometerErrorPlusMinusPercent: plusMinus(error),
      },
      budget: budget(odometerPerTrue),
      notes: statesUncertainty(counted.indicatedM) ? [RECORD_CAUTION] : [TAKEN_AS_EXACT, RECORD_CAUTION],
    }
  }
  const perM = quotient(countOf(counted), lengthM)
  const count = 'pulses' in counted ? { pulsesPerM: perM } : { turnsPerM: perM }
  return { count, budget: budget(perM), notes: [] }
}

function recordedOf({ recordedM, points, lengthM, noiseM }: TrackLength): MeasuredTrack['recorded'] {
  const recorded = { lengthM: recordedM, points, errorPercent: (recordedM / lengthM.value - 1) * 100 }
  return noiseM === undefined ? recorded : { ...recorded, noiseM }
}

function gapOf(gap: Gap, uPositionM: number): MeasuredTrack['gaps'][number] {
  const { afterPart, acrossM, lastsS } = gap
  const row = { afterPart, distanceM: acrossM, moved: movedAcross(gap, uPositionM) }
  return lastsS === undefined ? row : { ...row, durationS: lastsS }
}

/**
 * Length of a road driven, and what was counted over it per distance, or the error of the odometer.
 *
 *     n/L;  odometer ÷ true = D/L;  standard uncertainty of a position per axis = r/√(−2 ln 0.05)
 *
 * L is the length by `trackLength`, n the count, D the distance by the odometer, r the radius that contains 95 % of the positions.
 *
 * @param recorded - Points in segments, accuracy of the positions [m], and a count or a distance by the odometer [m]
 * @returns Length [m], its corrections, gaps, and the result of the count; without the latter where the car moved in a gap
 * @throws {DomainError} `too-few-readings`, `times-not-increasing`, `track-without-length`, `out-of-range`
 * @see C. F. F. Karney (2013) for the geodesics; circular normal distribution for the radius: derived; 8 m: common practice, no source
 * @example measuredTrack({ segments: [[{ latDeg: 0, lonDeg: 0 }, { latDeg: 0, lonDeg: 1 }]] }).recorded.lengthM // 111319.4908 ± 1e-3
 */
export function measuredTrack(recorded: TrackToMeasure): MeasuredTrack {
  const { segments, counted, accuracyM } = recorded
  const uPositionM = (accuracyM ?? DEFAULT_ACCURACY_M) / RADIUS_95
  const track = withPointer('/points', () => trackLength(segments, uPositionM))
  const { lengthM } = track
  const sources: SourceId[] = ['definitions', 'gum', 'wgs84-geodesics', 'caller-reading']
  const notes = [...track.notes]
  if (accuracyM === undefined) {
    sources.push('gps-position')
    notes.push(ACCURACY_ASSUMED)
  }
  const out: Mutable<MeasuredTrack> = {
    lengthM,
    recorded: recordedOf(track),
    standstill: { stops: track.stands.length, durationS: standingS(track.stands) },
    thinning: {
      minSpacingM: track.thinningM,
      pointsUsed: track.pointsUsed,
      lengthM: track.thinnedM,
      noiseAddedM: track.noiseBiasM,
      bendsCutM: track.cutM,
    },
    residualPlusMinusPercent: (100 * 2 * track.uBiasM) / lengthM.value,
    parts: track.parts.slice(0, MAX_LISTED),
    gaps: track.gaps.slice(0, MAX_LISTED).map((gap) => gapOf(gap, uPositionM)),
    discarded: track.leftOut.slice(0, MAX_LISTED),
    budget: budget(lengthM),
    sources,
    notes,
  }
  if (counted === undefined) return out
  const over = countedOver(counted, track, uPositionM)
  if ('code' in over) {
    notes.push(over)
    return out
  }
  notes.push(...over.notes)
  return Object.assign(out, over.count, { budget: over.budget })
}
