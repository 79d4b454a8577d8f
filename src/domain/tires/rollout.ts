import { DomainError, within } from '../errors.js'
import { exact, type Figure, quotient, sum, uncertain } from '../measure/figure.js'
import type { Note } from '../measure/notes.js'
import { coveringUncertaintyOfMean, mean, outlierIndexes } from '../measure/readings.js'

/** One roll-out run: wheel turns and distance. */
export interface RolloutRun {
  readonly wheelTurns: number
  readonly distanceM: number
  /** Standard uncertainty of the distance: tape, start and end marks [m]. */
  readonly uDistanceM: number
}

export interface Rollout {
  readonly rollingCircumferenceM: Figure
  readonly turnsPerM: Figure
  /** Circumference of each run minus the mean [m]. */
  readonly residualsM: readonly number[]
  readonly outliers: readonly number[]
  readonly notes: readonly Note[]
}

/** Runs that agree this well are never outliers: a tenth of a millimeter in a meter. */
const AGREEMENT = 1e-4

/**
 * Rolling circumference from roll-outs on the ground.
 *
 *     Cₖ = distanceₖ / turnsₖ      C = mean of Cₖ      u² = (s/√n · t₉₅/2)² + (C · mean of u(dₖ)/dₖ)²
 *
 * n runs; s is their standard deviation, dₖ the distance of run k.
 *
 * The uncertainty of the distances counts as common to all runs: the same tape, read in the same way. Roll the car loaded, on level ground, at the
 * recommended tire pressure; a slow roll-out misses the growth of the tire at speed (under 1 %).
 *
 * @param runs - At least two runs, or one whose distance has an uncertainty. Turns 0.25 .. 10 000, distance 0.1 m .. 50 km
 * @returns Circumference [m], turns [1/m], residual of each run, outliers by index
 * @throws {DomainError} `too-few-readings`, `out-of-range` for a circumference outside 0.3 .. 10 m
 * @see JCGM 100:2008, 4.2.3, 4.3; French taximeter regulation of 1980, annex II, art. 4 (course, load, pressure)
 * @example rollout([{ wheelTurns: 5, distanceM: 9.925, uDistanceM: 0.01 }]).rollingCircumferenceM.value // 1.985 ± 1e-12
 */
export function rollout(runs: readonly RolloutRun[]): Rollout {
  const circumferencesM = runs.map(({ wheelTurns, distanceM }, index) => {
    const circumferenceM = distanceM / wheelTurns
    if (!(circumferenceM >= 0.3 && circumferenceM <= 10)) {
      throw new DomainError(
        'out-of-range',
        `runs/${index}: ${distanceM} m in ${wheelTurns} turns is ${circumferenceM} m per turn; expected 0.3 to 10 m`,
        {
          pointer: `/runs/${index}`,
        },
      )
    }
    return circumferenceM
  })
  const meanM = mean(circumferencesM)
  const relative = mean(runs.map(({ uDistanceM, distanceM }) => uDistanceM / distanceM))
  if (runs.length < 2 && relative === 0) {
    throw new DomainError(
      'too-few-readings',
      'runs: a single run without uncertainty has no known uncertainty; give a second run, or plusMinus with the distance',
      {
        pointer: '/runs',
        min: 2,
      },
    )
  }
  const scatter = runs.length < 2 ? 0 : coveringUncertaintyOfMean(circumferencesM)
  const rollingCircumferenceM = sum(
    uncertain(within('rollingCircumferenceM', meanM, 0.3, 10), 'roll-out: scatter of the runs', scatter),
    uncertain(0, 'roll-out: measured distance', meanM * relative),
  )
  const outliers = outlierIndexes(circumferencesM, AGREEMENT * meanM)
  const notes: Note[] = outliers.map((index) => ({
    code: 'outlying-run',
    level: 'caution',
    text: `Run ${index + 1} is an outlier (${((circumferencesM[index]! / meanM - 1) * 100).toFixed(2)} % from the mean): check its turns and distance, and leave it out only for a known reason.`,
  }))
  if (runs.length < 2) {
    notes.push({
      code: 'single-run',
      level: 'info',
      text: 'With one run the scatter is unknown: the uncertainty is that of the distance alone.',
    })
  }
  if (runs.length >= 2 && relative === 0 && scatter <= AGREEMENT * AGREEMENT * meanM) {
    notes.push({
      code: 'no-scatter',
      level: 'caution',
      text: 'The runs agree exactly and carry no uncertainty, so the answer shows none, although no tape is that good. Give plusMinus with the distances, for the marks at both ends and the tape: often 5 to 10 mm together.',
    })
  }
  return {
    rollingCircumferenceM,
    turnsPerM: quotient(exact(1), rollingCircumferenceM),
    residualsM: circumferencesM.map((circumferenceM) => circumferenceM - meanM),
    outliers,
    notes,
  }
}
