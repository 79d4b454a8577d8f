import { writing } from '../codec/answer.js'
import { decoder } from '../codec/decoder.js'
import { DomainError, withPointer } from '../domain/errors.js'
import { KM_M } from '../domain/measure/units.js'
import type { Mutable } from '../domain/mutable.js'
import { analyzeLog, type LogAnalysisRequest as LogToAnalyze } from '../domain/signals/log-analysis.js'
import { logUnitS } from '../domain/signals/pulse-log.js'
import { csvColumn } from '../http/log-csv.js'
import { assertHeadingMatches } from '../http/log-heading.js'
import { JSON_TYPE, type RawBody, type ReadJson } from '../http/raw-body.js'
import { RequestProblem } from '../http/request-problem.js'
import {
  LogAnalysisAnswer,
  type LogAnalysisAnswerShape,
  type LogAnalysisQueryShape,
  LogAnalysisRequest,
  MAX_LOGGED,
} from '../schemas/log-analysis.js'
import { ref } from '../schemas/named-shapes.js'

/** A log as it came, with the settings of a table. */
export interface LogRequest extends RawBody {
  readonly query: LogAnalysisQueryShape
}

const LOG = ref(LogAnalysisRequest)
const decode = decoder(LogAnalysisRequest)
const analyzed = writing({ answer: LogAnalysisAnswer, compute: analyzeLog })

/** JSON says in the body what CSV says in the address: refuses both at once. */
function refuseQuery(query: LogAnalysisQueryShape): void {
  const names = Object.keys(query)
  if (names.length === 0) return
  throw new RequestProblem(
    'invalid-request',
    `query #/${names[0]} is for text/csv; a JSON log has it in its body`,
    names.map((name) => ({
      in: 'query' as const,
      pointer: `#/${name}`,
      code: 'unknown-field',
      detail: 'is for text/csv; a JSON log has it in its body',
    })),
  )
}

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
function logOfJson({ bytes, query }: LogRequest, readJson: ReadJson): LogToAnalyze {
  const body = readJson(LOG, bytes)
  refuseQuery(query)
  const log = decode(body)
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

function valuesOfTable(bytes: Uint8Array, query: LogAnalysisQueryShape): Float64Array {
  const table = { column: query.column ?? '1', delimiter: DELIMITERS[query.delimiter ?? 'comma'] }
  const { heading, values } = csvColumn(bytes, table, MAX_LOGGED)
  if (heading !== undefined) {
    const unit = query.unit !== undefined || query.tickUs !== undefined
    assertHeadingMatches(heading, { content: query.content !== undefined, unit })
  }
  return values
}

/** A log as a table. */
function logOfTable({ bytes, query }: LogRequest): LogToAnalyze {
  const { pulsesPerTurn, tickUs, pulsesPerKm } = query
  if (pulsesPerTurn === undefined) {
    const fault = {
      in: 'query',
      pointer: '#/pulsesPerTurn',
      code: 'missing',
      detail: 'is required with text/csv',
    } as const
    throw new RequestProblem('invalid-request', 'query #/pulsesPerTurn is required with text/csv', [fault])
  }
  const tickS = tickUs === undefined ? undefined : tickUs * 1e-6
  const unitS = withPointer('', () => logUnitS(query.unit, tickS, 'tickUs'), 'query')
  const log = { values: valuesOfTable(bytes, query), content: query.content ?? 'times', unitS, pulsesPerTurn }
  return withSettings(log, pulsesPerKm === undefined ? undefined : pulsesPerKm / KM_M, query.seriesPoints)
}

/** A table has rows, so a JSON Pointer does not apply. */
function answerOfTable(log: LogToAnalyze): LogAnalysisAnswerShape {
  try {
    return analyzed(log)
  } catch (error) {
    if (!(error instanceof DomainError)) throw error
    const { pointer: _, ...context } = error.context
    throw new DomainError(error.code, error.message, context, { cause: error })
  }
}

/** From a log to the answer on it; threads compute long ones by it. */
export function logAnalysisAnswer(request: LogRequest, readJson: ReadJson): LogAnalysisAnswerShape {
  return request.mediaType === JSON_TYPE
    ? analyzed(logOfJson(request, readJson))
    : answerOfTable(logOfTable(request))
}
