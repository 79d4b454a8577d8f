import { writing } from '../codec/answer.js'
import { decoder } from '../codec/decoder.js'
import { DomainError, withPointer } from '../domain/errors.js'
import { KM_M } from '../domain/measure/units.js'
import type { Mutable } from '../domain/mutable.js'
import { analyzeLog, type LogAnalysisRequest as LogToAnalyze } from '../domain/signals/log-analysis.js'
import { logUnitS } from '../domain/signals/pulse-log.js'
import { csvColumn } from '../http/log-csv.js'
import { assertHeadingMatches } from '../http/log-heading.js'
import type { RawBody, ReadJson } from '../http/raw-body.js'
import {
  LogAnalysisAnswer,
  type LogAnalysisAnswerShape,
  LogAnalysisRequest,
  type LogTableQueryShape,
  MAX_LOGGED,
} from '../schemas/log-analysis.js'
import { ref } from '../schemas/named-shapes.js'

/** A log in a table as it came, and its settings. */
export interface LogTable extends RawBody {
  readonly query: LogTableQueryShape
}

const LOG = ref(LogAnalysisRequest)
const decode = decoder(LogAnalysisRequest)
const analyzed = writing({ answer: LogAnalysisAnswer, compute: analyzeLog })

/** What both forms of a log may say. */
function withSettings(
  log: Omit<LogToAnalyze, 'pulsesPerM' | 'seriesPoints'>,
  pulsesPerM: number | undefined,
  seriesPoints: number | undefined,
): LogToAnalyze {
  const out: Mutable<LogToAnalyze> = { ...log }
  if (pulsesPerM !== undefined) out.pulsesPerM = pulsesPerM
  if (seriesPoints !== undefined) out.seriesPoints = seriesPoints
  return out
}

/** A log in JSON. */
function logOfJson({ bytes }: RawBody, readJson: ReadJson): LogToAnalyze {
  const log = decode(readJson(LOG, bytes))
  const { pulsesPerTurn, pulsesPerM, seriesPoints } = log
  const given = {
    values: Float64Array.from('periods' in log ? log.periods : log.times),
    content: 'periods' in log ? ('periods' as const) : ('times' as const),
    unitS: logUnitS(log.unit, log.tickS),
    pulsesPerTurn,
  }
  return withSettings(given, pulsesPerM?.value, seriesPoints)
}

const DELIMITERS = { comma: ',', semicolon: ';', tab: '\t' } as const

function valuesOfTable(bytes: Uint8Array, query: LogTableQueryShape): Float64Array {
  const table = { column: query.column ?? '1', delimiter: DELIMITERS[query.delimiter ?? 'comma'] }
  const { heading, values } = csvColumn(bytes, table, MAX_LOGGED)
  if (heading !== undefined) {
    const unit = query.unit !== undefined || query.tickUs !== undefined
    assertHeadingMatches(heading, { content: query.content !== undefined, unit })
  }
  return values
}

/** A log as a table. */
function logOfTable({ bytes, query }: LogTable): LogToAnalyze {
  const { pulsesPerTurn, tickUs, pulsesPerKm } = query
  const tickS = tickUs === undefined ? undefined : tickUs * 1e-6
  const unitS = withPointer('', () => logUnitS(query.unit, tickS, 'tickUs'), 'query')
  const log = { values: valuesOfTable(bytes, query), content: query.content ?? 'times', unitS, pulsesPerTurn }
  return withSettings(log, pulsesPerKm === undefined ? undefined : pulsesPerKm / KM_M, query.seriesPoints)
}

/** From a log in JSON to the answer on it; threads compute long ones by it. */
export const logAnalysisAnswer = (log: RawBody, readJson: ReadJson): LogAnalysisAnswerShape =>
  analyzed(logOfJson(log, readJson))

/** The same of a log in a table, which has rows: a JSON Pointer does not apply. */
export function logTableAnswer(table: LogTable): LogAnalysisAnswerShape {
  const log = logOfTable(table)
  try {
    return analyzed(log)
  } catch (error) {
    if (!(error instanceof DomainError)) throw error
    const { pointer: _, ...context } = error.context
    throw new DomainError(error.code, error.message, context, { cause: error })
  }
}
