import type { Static } from '@sinclair/typebox'
import type { EnclosureRequest } from '../domain/electrics/enclosure.js'
import type { KnownDial } from '../domain/gauges/dial-error.js'
import type { SimulationRequest } from '../domain/signals/simulation.js'
import type { KnownTires } from '../domain/tires/comparison.js'
import type { RawBody, ReadJson } from '../http/raw-body.js'
import { vehicleLinesOf } from '../http/vehicle-batches.js'
import type { EnclosureAnswer } from '../schemas/electrics/enclosure.js'
import type { GaugeErrorAnswer } from '../schemas/gauges.js'
import type { TrainsAnswer, TrainsRequestShape } from '../schemas/gears.js'
import type { LogAnalysisAnswerShape } from '../schemas/log-analysis.js'
import type { TrackAnswerShape } from '../schemas/odometer-track.js'
import type { SimulationAnswerShape } from '../schemas/simulation.js'
import type { ComparisonAnswer } from '../schemas/tires.js'
import type { PaperChoice, WorksheetShape } from '../schemas/worksheets.js'
import { dialErrorAnswer } from './dial-error.js'
import { enclosureAnswer } from './enclosure-answer.js'
import { type LogTable, logAnalysisAnswer, logTableAnswer } from './log-analysis.js'
import { simulationAnswer } from './simulation.js'
import { comparisonAnswer } from './tire-comparison.js'
import { type GpxTrack, gpxTrackAnswer, trackAnswer } from './track-answer.js'
import { trainsAnswer } from './trains-answer.js'

/** Input and output of each long computation. */
export interface Jobs {
  simulation: { takes: SimulationRequest; answers: SimulationAnswerShape }
  logAnalysis: { takes: RawBody; answers: LogAnalysisAnswerShape }
  logTable: { takes: LogTable; answers: LogAnalysisAnswerShape }
  track: { takes: RawBody; answers: TrackAnswerShape }
  gpxTrack: { takes: GpxTrack; answers: TrackAnswerShape }
  vehicleLines: { takes: RawBody; answers: Uint8Array }
  gearTrains: { takes: TrainsRequestShape; answers: Static<typeof TrainsAnswer> }
  enclosure: { takes: EnclosureRequest; answers: Static<typeof EnclosureAnswer> }
  dialError: { takes: KnownDial; answers: Static<typeof GaugeErrorAnswer> }
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
  simulation: simulationAnswer,
  logAnalysis: logAnalysisAnswer,
  logTable: logTableAnswer,
  track: trackAnswer,
  gpxTrack: gpxTrackAnswer,
  vehicleLines: vehicleLinesOf,
  gearTrains: trainsAnswer,
  enclosure: enclosureAnswer,
  dialError: dialErrorAnswer,
  tireComparison: comparisonAnswer,
}
