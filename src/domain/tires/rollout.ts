import { DomainError, within } from '../errors.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { quotient, sum } from '../measure/propagation.js'
import { coveringUncertaintyOfMean, mean, outlierIndexes } from '../measure/readings.js'
import type { SourceId } from '../measure/sources.js'
import { standardUncertainty } from '../measure/uncertainty.js'

/** One roll-out run: wheel turns and distance. */
export interface RolloutRun {
  readonly wheelTurns: number
  /** Its uncertainty is that of tape, start and end marks. */
  readonly distanceM: Figure
}

/** One run against the others. */
export interface RunResult {
  readonly circumferenceM: number
  /** Circumference of this run minus the mean [m]. */
  readonly residualM: number
  readonly outlier: boolean
}

export interface Rollout {
  readonly rollingCircumferenceM: Figure
  readonly turnsPerM: Figure
  readonly runs: readonly RunResult[]
  /** Of the rolling circumference. */
  readonly budget: readonly BudgetLine[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Runs that agree this well are never outliers: a tenth of a millimeter in a meter. */
const AGREEMENT = 1e-4

const CAUTION: Note = cautionNote(
  'rolling-a-car',
  'Roll the car on level ground, away from traffic, with one person at the brake and nobody in its way.',
)

function circumferenceOf({ wheelTurns, distanceM: { value: distanceM } }: RolloutRun, index: number): number {
  const circumferenceM = distanceM / wheelTurns
  if (circumferenceM >= 0.3 && circumferenceM <= 10) return circumferenceM
  throw new DomainError(
    'out-of-range',
    `runs/${index}: ${distanceM} m in ${wheelTurns} turns is ${circumferenceM} m per turn; expected 0.3 to 10 m`,
    { pointer: `/runs/${index}` },
  )
}

/** What limits the result. */
function notesOf(circumferencesM: readonly number[], outliers: readonly number[], isExact: boolean): Note[] {
  const meanM = mean(circumferencesM)
  const notes: Note[] = outliers.map((index) =>
    cautionNote(
      'outlying-run',
      `Run ${index + 1} is an outlier (${((circumferencesM[index]! / meanM - 1) * 100).toFixed(2)} % from the mean): check its turns and distance, and leave it out only for a known reason.`,
    ),
  )
  if (circumferencesM.length < 2) {
    notes.push(
      infoNote(
        'single-run',
        'With one run the scatter is unknown: the uncertainty is that of the distance alone.',
      ),
    )
  } else if (isExact && coveringUncertaintyOfMean(circumferencesM) <= AGREEMENT * AGREEMENT * meanM) {
    notes.push(
      cautionNote(
        'no-scatter',
        'The runs agree exactly and carry no uncertainty, so the answer shows none, although no tape is that good. Give plusMinus with the distances, for the marks at both ends and the tape: often 5 to 10 mm together.',
      ),
    )
  }
  return [...notes, CAUTION]
}

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
 * @param request - At least two runs, or one whose distance has an uncertainty. Turns 0.25 .. 10 000, distance 0.1 m .. 50 km
 * @returns Circumference [m], turns [1/m], each run against the mean
 * @throws {DomainError} `too-few-readings`, `out-of-range` for a circumference outside 0.3 .. 10 m
 * @see JCGM 100:2008, 4.2.3, 4.3; French taximeter regulation of 1980, annex II, art. 4 (course, load, pressure)
 * @example rollout({ runs: [{ wheelTurns: 5, distanceM: uncertain(9.925, 'distance', 0.01) }] }).rollingCircumferenceM.value // 1.985 ± 1e-12
 */
export function rollout(request: { readonly runs: readonly RolloutRun[] }): Rollout {
  const { runs } = request
  const circumferencesM = runs.map(circumferenceOf)
  const meanM = mean(circumferencesM)
  const relative = mean(runs.map(({ distanceM }) => standardUncertainty(distanceM) / distanceM.value))
  if (runs.length < 2 && relative === 0) {
    throw new DomainError(
      'too-few-readings',
      'runs: a single run without uncertainty has no known uncertainty; give a second run, or plusMinus with the distance',
      { pointer: '/runs', min: 2 },
    )
  }
  const scatter = runs.length < 2 ? 0 : coveringUncertaintyOfMean(circumferencesM)
  const rollingCircumferenceM = sum(
    uncertain(within('rollingCircumferenceM', meanM, 0.3, 10), 'roll-out: scatter of the runs', scatter),
    uncertain(0, 'roll-out: measured distance', meanM * relative),
  )
  const outliers = outlierIndexes(circumferencesM, AGREEMENT * meanM)
  return {
    rollingCircumferenceM,
    turnsPerM: quotient(exact(1), rollingCircumferenceM),
    runs: circumferencesM.map((circumferenceM, index) => {
      const residualM = circumferenceM - meanM
      return { circumferenceM: meanM + residualM, residualM, outlier: outliers.includes(index) }
    }),
    budget: budget(rollingCircumferenceM),
    sources: ['definitions', 'gum', 'taximeter-course', 'nist-handbook', 'caller-reading'],
    notes: notesOf(circumferencesM, outliers, relative === 0),
  }
}
