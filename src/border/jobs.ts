import type { Static } from '@sinclair/typebox'
import type { TrainsAnswer, TrainsRequestShape } from '../schemas/gears.js'
import type {
  LogAnalysisAnswerShape,
  SimulationAnswerShape,
  SimulationRequestShape,
} from '../schemas/signals.js'
import type { PaperChoice, WorksheetShape } from '../schemas/worksheets.js'
import { trainsOut } from './gears.js'
import { type LogOrder, logAnalysisOut } from './log-analysis.js'
import { simulationOut } from './simulation.js'

/** What each long computation takes and answers, in the shapes of the wire. */
export interface Jobs {
  simulation: { takes: SimulationRequestShape; answers: SimulationAnswerShape }
  logAnalysis: { takes: LogOrder; answers: LogAnalysisAnswerShape }
  gearTrains: { takes: TrainsRequestShape; answers: Static<typeof TrainsAnswer> }
  worksheetPdf: { takes: { worksheet: WorksheetShape; paper: PaperChoice }; answers: Uint8Array }
}

type Computed = Exclude<keyof Jobs, 'worksheetPdf'>

/**
 * Computations that may take long enough to keep other callers waiting. They run in threads of their own, where what is
 * drawn on paper is added to them.
 */
export const JOBS: { readonly [J in Computed]: (input: Jobs[J]['takes']) => Jobs[J]['answers'] } = {
  simulation: simulationOut,
  logAnalysis: logAnalysisOut,
  gearTrains: trainsOut,
}

/** Runs a long computation away from the thread that answers requests. */
export type RunJob = <J extends keyof Jobs>(job: J, input: Jobs[J]['takes']) => Promise<Jobs[J]['answers']>
