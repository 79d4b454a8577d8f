import type { Static } from '@sinclair/typebox'
import type { TrainsAnswer, TrainsRequestShape } from '../schemas/gears.js'
import type {
  LogAnalysisAnswerShape,
  SimulationAnswerShape,
  SimulationRequestShape,
} from '../schemas/signals.js'
import type { PaperChoice, WorksheetShape } from '../schemas/worksheets.js'
import { trainsOut } from './gears.js'
import { type LogJob, logAnalysisOut } from './log-analysis.js'
import { simulationOut } from './simulation.js'

/** Input and output of each long computation. */
export interface Jobs {
  simulation: { takes: SimulationRequestShape; answers: SimulationAnswerShape }
  logAnalysis: { takes: LogJob; answers: LogAnalysisAnswerShape }
  gearTrains: { takes: TrainsRequestShape; answers: Static<typeof TrainsAnswer> }
  worksheetPdf: { takes: { worksheet: WorksheetShape; paper: PaperChoice }; answers: Uint8Array }
}

type Computed = Exclude<keyof Jobs, 'worksheetPdf'>

/**
 * Computations long enough to block other requests. They run in worker threads, which also draw the PDF of a worksheet.
 */
export const JOBS: { readonly [J in Computed]: (input: Jobs[J]['takes']) => Jobs[J]['answers'] } = {
  simulation: simulationOut,
  logAnalysis: logAnalysisOut,
  gearTrains: trainsOut,
}

/** Runs a long computation in a worker thread. */
export type RunJob = <J extends keyof Jobs>(job: J, input: Jobs[J]['takes']) => Promise<Jobs[J]['answers']>
