import { DomainError } from '../domain/errors.js'
import { COVERAGE_FACTOR } from '../domain/measure/figure.js'
import { fromSi, KM_M } from '../domain/measure/units.js'
import type { Mutable } from '../domain/mutable.js'
import {
  analyzeLog,
  type Finding,
  type LogAnalysis,
  type LogAnalysisRequest as LogToAnalyze,
} from '../domain/signals/log-analysis.js'
import { ref } from '../schemas/measures.js'
import {
  type LogAnalysisAnswerShape,
  type LogAnalysisQueryShape,
  LogAnalysisRequest,
  type LogAnalysisRequestShape,
  MAX_LOGGED,
  MAX_PLACES,
} from '../schemas/signals.js'
import { filterOut } from './filters.js'
import { type CsvColumn, csvColumn } from './log-csv.js'
import { assertHeadingMatches, type LogSettings } from './log-heading.js'
import { timeOut, valueSi } from './measures.js'
import { provenance } from './provenance.js'
import { JSON_TYPE, type RawBody, type ReadJson } from './raw-body.js'
import { RequestProblem } from './request-problem.js'

/** A log as it came, with the settings of a table. */
export interface LogRequest extends RawBody {
  readonly query: LogAnalysisQueryShape
}

/** What is to be analyzed. */
interface LogJob {
  readonly holds: 'periods' | 'times'
  readonly unitS: number
  readonly pulsesPerTurn: number
  readonly pulsesPerM?: number
  readonly seriesPoints: number
  readonly from:
    | Float64Array
    | { readonly bytes: Uint8Array; readonly table: CsvColumn; readonly stated: LogSettings }
}

const UNIT_S = { s: 1, ms: 1e-3, us: 1e-6 } as const
const SERIES_POINTS = 500
const MAX_RUNS = 1000

function unitOf(
  unit: keyof typeof UNIT_S | undefined,
  tickS: number | undefined,
  part: 'body' | 'query',
  tick: string,
) {
  if (unit !== undefined && tickS !== undefined) {
    throw new DomainError(
      'log-unit-ambiguous',
      `unit: expected unit or ${tick}, got both; give ${tick} for timer counts, unit for times`,
      { pointer: '/unit', in: part },
    )
  }
  return tickS ?? UNIT_S[unit ?? 's']
}

/** A log in JSON. */
function logJobOf(wire: LogAnalysisRequestShape): LogJob {
  const holds = 'periods' in wire ? 'periods' : 'times'
  const job: Mutable<LogJob> = {
    holds,
    unitS: unitOf(
      wire.unit,
      wire.tick === undefined ? undefined : valueSi('time', wire.tick),
      'body',
      'tick',
    ),
    pulsesPerTurn: wire.pulsesPerTurn,
    seriesPoints: wire.seriesPoints ?? SERIES_POINTS,
    from: Float64Array.from('periods' in wire ? wire.periods : wire.times),
  }
  if (wire.pulses !== undefined) job.pulsesPerM = valueSi('perDistance', wire.pulses)
  return job
}

const DELIMITERS = { comma: ',', semicolon: ';', tab: '\t' } as const

/** A log as a table. */
function logJobOfCsv(bytes: Uint8Array, query: LogAnalysisQueryShape): LogJob {
  if (query.pulsesPerTurn === undefined) {
    const fault = {
      in: 'query',
      pointer: '#/pulsesPerTurn',
      code: 'missing',
      detail: 'is required with text/csv',
    } as const
    throw new RequestProblem('invalid-request', 'query #/pulsesPerTurn is required with text/csv', [fault])
  }
  const job: Mutable<LogJob> = {
    holds: query.holds ?? 'times',
    unitS: unitOf(
      query.unit,
      query.tickUs === undefined ? undefined : query.tickUs * 1e-6,
      'query',
      'tickUs',
    ),
    pulsesPerTurn: query.pulsesPerTurn,
    seriesPoints: query.seriesPoints ?? SERIES_POINTS,
    from: {
      bytes,
      table: { column: query.column ?? '1', delimiter: DELIMITERS[query.delimiter ?? 'comma'] },
      stated: {
        holds: query.holds !== undefined,
        unit: query.unit !== undefined || query.tickUs !== undefined,
      },
    },
  }
  if (query.pulsesPerKm !== undefined) job.pulsesPerM = query.pulsesPerKm / KM_M
  return job
}

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

function valuesOfTable({ bytes, table, stated }: Exclude<LogJob['from'], Float64Array>): Float64Array {
  const { heading, values } = csvColumn(bytes, table, MAX_LOGGED)
  if (heading !== undefined) assertHeadingMatches(heading, stated)
  return values
}

function analysisOf(job: LogJob): LogAnalysis {
  const { holds, unitS, pulsesPerTurn, pulsesPerM, seriesPoints, from } = job
  const values = from instanceof Float64Array ? from : valuesOfTable(from)
  const request: Mutable<LogToAnalyze> = { values, holds, unitS, pulsesPerTurn, seriesPoints }
  if (pulsesPerM !== undefined) request.pulsesPerM = pulsesPerM
  try {
    return analyzeLog(request)
  } catch (error) {
    if (from instanceof Float64Array || !(error instanceof DomainError)) throw error
    // A table has rows, so a JSON Pointer does not apply.
    const { pointer: _, ...context } = error.context
    throw new DomainError(error.code, error.message, context, { cause: error })
  }
}

function findingOut({
  code,
  level,
  points,
  chance,
  text,
}: Finding): LogAnalysisAnswerShape['findings'][number] {
  const out: LogAnalysisAnswerShape['findings'][number] = { code, level, text }
  if (points !== undefined) out.points = points
  if (chance !== undefined) out.chance = chance
  return out
}

function seriesOut(flat: Float64Array, inSpeed: boolean): LogAnalysisAnswerShape['series'] {
  const points: number[][] = []
  for (let i = 0; i < flat.length; i += 2) {
    points.push([flat[i]!, inSpeed ? fromSi('speed', 'kmh', flat[i + 1]!) : flat[i + 1]!])
  }
  return [inSpeed ? { name: 'speed', unit: 's, km/h', points } : { name: 'frequency', unit: 's, Hz', points }]
}

const LOG = ref(LogAnalysisRequest)

function jobOf({ mediaType, bytes, query }: LogRequest, readJson: ReadJson): LogJob {
  if (mediaType !== JSON_TYPE) return logJobOfCsv(bytes, query)
  const log = readJson(LOG, bytes)
  refuseQuery(query)
  return logJobOf(log)
}

/** The answer of `POST /v1/signals/log-analysis`. */
export function logAnalysisOut(request: LogRequest, readJson: ReadJson): LogAnalysisAnswerShape {
  const job = jobOf(request, readJson)
  const result = analysisOf(job)
  const notes = [...result.notes]
  if (
    result.missed.length > MAX_PLACES ||
    result.extra.length > MAX_PLACES ||
    result.runs.length > MAX_RUNS
  ) {
    notes.push({
      code: 'lists-cut',
      level: 'info',
      text: `At most ${MAX_PLACES} places of each kind and ${MAX_RUNS} runs are listed; the totals count all.`,
    })
  }
  const out: LogAnalysisAnswerShape = {
    pulses: result.pulses,
    duration: timeOut(result.durationS),
    wraps: result.wraps,
    runs: result.runs.slice(0, MAX_RUNS).map((run) => ({ ...run })),
    unsteadyPulses: result.unsteadyPulses,
    missedTotal: result.missedTotal,
    missed: result.missed.slice(0, MAX_PLACES).map((place) => ({ ...place })),
    extraTotal: result.extra.length,
    extra: result.extra.slice(0, MAX_PLACES).map((place) => ({ ...place })),
    jitter: {
      share: result.jitter.periodShare,
      edge: timeOut(result.jitter.edgeS),
      nextCorrelation: result.jitter.nextCorrelation,
    },
    series: seriesOut(result.series, job.pulsesPerM !== undefined),
    causes: [...result.causes],
    findings: result.findings.map(findingOut),
    ...provenance({ sources: result.sources, notes }),
  }
  if (result.resolutionS !== undefined) out.resolution = timeOut(result.resolutionS)
  if (result.wrapS !== undefined) out.wrap = timeOut(result.wrapS)
  if (result.ring !== undefined) {
    const { gaps, significant, rmsError, eccentricity, widestGap, oncePerTurnShare } = result.ring
    out.ring = {
      significant,
      rms: rmsError,
      eccentricity,
      widestGap,
      oncePerTurnShare,
      gaps: gaps.map(({ error, uncertainty, passes, missed, extra }) => ({
        error,
        plusMinus: COVERAGE_FACTOR * uncertainty,
        passes,
        missed,
        extra,
      })),
    }
  }
  if (result.recommended !== undefined) {
    const { filter, noiseBefore, noiseAfter, lagS } = result.recommended
    out.recommended = {
      filter: filterOut(filter),
      noiseBeforePercent: 100 * noiseBefore,
      noiseAfterPercent: 100 * noiseAfter,
      lag: timeOut(lagS),
    }
  }
  return out
}
