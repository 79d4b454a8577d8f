import type {
  LogAnalysisAnswerShape,
  SimulationAnswerShape,
  SimulationRequestShape,
} from '../schemas/signals.js'
import { type LogOrder, logAnalysisOut } from './log-analysis.js'
import { simulationOut } from './simulation.js'

/** What each long computation takes and answers, in the shapes of the wire. */
export interface Jobs {
  simulation: { takes: SimulationRequestShape; answers: SimulationAnswerShape }
  logAnalysis: { takes: LogOrder; answers: LogAnalysisAnswerShape }
}

/** Computations that may take long enough to keep other callers waiting. They run in threads of their own. */
export const JOBS: { readonly [J in keyof Jobs]: (input: Jobs[J]['takes']) => Jobs[J]['answers'] } = {
  simulation: simulationOut,
  logAnalysis: logAnalysisOut,
}

/** Runs a long computation away from the thread that answers requests. */
export type RunJob = <J extends keyof Jobs>(job: J, input: Jobs[J]['takes']) => Promise<Jobs[J]['answers']>
