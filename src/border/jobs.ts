import type { Static } from '@sinclair/typebox'
import { writing } from '../codec/answer.js'
import { findTrains } from '../domain/gears/find-trains.js'
import type { KnownTires } from '../domain/tires/comparison.js'
import { TrainsAnswer, type TrainsRequestShape } from '../schemas/gears.js'
import type { LogAnalysisAnswerShape } from '../schemas/log-analysis.js'
import type { SimulationAnswerShape, SimulationRequestShape } from '../schemas/simulation.js'
import type { ComparisonAnswer } from '../schemas/tires.js'
import type { PaperChoice, WorksheetShape } from '../schemas/worksheets.js'
import { type LogRequest, logAnalysisOut } from './log-analysis.js'
import { type TrackAnswerShape, type TrackGiven, trackOut } from './odometer-track.js'
import type { RawBody, ReadJson } from './raw-body.js'
import { simulationOut } from './simulation.js'
import { comparisonOut } from './tires.js'
import { vehicleLinesOf } from './vehicle-batches.js'

/** Input and output of each long computation. */
export interface Jobs {
  simulation: { takes: SimulationRequestShape; answers: SimulationAnswerShape }
  logAnalysis: { takes: LogRequest; answers: LogAnalysisAnswerShape }
  track: { takes: TrackGiven; answers: TrackAnswerShape }
  vehicleLines: { takes: RawBody; answers: Uint8Array }
  gearTrains: { takes: TrainsRequestShape; answers: Static<typeof TrainsAnswer> }
  tireComparison: { takes: KnownTires; answers: Static<typeof ComparisonAnswer> }
  worksheetPdf: { takes: { worksheet: WorksheetShape; paper: PaperChoice }; answers: Uint8Array }
}

type Computed = Exclude<keyof Jobs, 'worksheetPdf'>

/**
 * Computations long enough to block other requests. They run in worker threads, which also draw the PDF of a worksheet.
 */
export const JOBS: {
  readonly [J in Computed]: (input: Jobs[J]['takes'], readJson: ReadJson) => Jobs[J]['answers']
} = {
  simulation: simulationOut,
  logAnalysis: logAnalysisOut,
  track: trackOut,
  vehicleLines: vehicleLinesOf,
  gearTrains: writing({ answer: TrainsAnswer, compute: findTrains }),
  tireComparison: comparisonOut,
}
