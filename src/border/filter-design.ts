import { distanceOut, figureOut, figureSi, speedOut, timeOut, valueSi } from '../codec/measures.js'
import { type Figure, plusMinus } from '../domain/measure/figure.js'
import type { Mutable } from '../domain/mutable.js'
import {
  type Alternative,
  designFilter,
  type FactorRange,
  type FilterDesign,
  type FilterDesignRequest,
  type FilterEffect,
  type Relaxation,
  type SpeedRow,
} from '../domain/signals/filter-design.js'
import type { FilterDesignAnswerShape, FilterDesignRequestShape } from '../schemas/signals.js'
import { filterOut } from './filters.js'
import { provenance } from './provenance.js'

/** Domain request of `POST /v1/signals/filter-design`. */
export function filterDesignOf(wire: FilterDesignRequestShape): FilterDesignRequest {
  const { sampling, limits } = wire
  const request: Mutable<FilterDesignRequest> = {
    sampling:
      'frequency' in sampling
        ? { by: 'rate', frequencyHz: figureSi('frequency', sampling.frequency, 'rate of the readings') }
        : {
            by: 'pulse',
            pulsesPerM: figureSi('perDistance', sampling.pulses, 'pulses per distance'),
            speedMPerS: figureSi('speed', sampling.speed, 'speed of the sampling'),
            noiseGrowth: sampling.noiseGrowth ?? 'none',
          },
    noiseMPerS: figureSi('speed', wire.noise, 'noise of one reading'),
    speedsMPerS: (wire.speeds ?? []).map((speed) => valueSi('speed', speed)),
  }
  if (limits?.noiseAfter !== undefined) request.noiseAfterMPerS = valueSi('speed', limits.noiseAfter)
  if (limits?.lag !== undefined) request.lagS = valueSi('time', limits.lag)
  if (wire.pulsesPerTurn !== undefined) request.pulsesPerTurn = wire.pulsesPerTurn
  if (wire.factor !== undefined) request.factor = wire.factor
  return request
}

const rangeOut = ({ min, max }: FactorRange) => ({
  min: min.value,
  max: max.value,
  minPlusMinus: plusMinus(min),
  maxPlusMinus: plusMinus(max),
})

const effectOut = (effect: FilterEffect & { meets: boolean }) => ({
  noiseAfter: figureOut(speedOut, effect.noiseAfterMPerS),
  rampLag: figureOut(timeOut, effect.rampLagS),
  settling95: figureOut(timeOut, effect.settling95S),
  settling95Readings: effect.settling95Samples,
  meets: effect.meets,
})

function alternativeOut(alternative: Alternative): FilterDesignAnswerShape['alternatives'][number] {
  const out: FilterDesignAnswerShape['alternatives'][number] = {
    kind: alternative.kind,
    filter: filterOut(alternative.filter),
    badReadingsIgnored: alternative.badReadingsIgnored,
    ...effectOut(alternative),
  }
  if (alternative.freeOfRingErrors !== undefined) out.freeOfRingErrors = alternative.freeOfRingErrors
  if (alternative.oncePerTurnGain !== undefined) out.oncePerTurnGain = alternative.oncePerTurnGain
  return out
}

function relaxationOut({ limit, needed, factor }: Relaxation): FilterDesignAnswerShape['relax'][number] {
  const neededOut = {
    lag: (figure: Figure) => ({ neededLag: figureOut(timeOut, figure) }),
    'noise-after': (figure: Figure) => ({ neededNoiseAfter: figureOut(speedOut, figure) }),
    'from-speed': (figure: Figure) => ({ neededSpeed: figureOut(speedOut, figure) }),
  }[limit](needed)
  return { limit, factor, ...neededOut }
}

function speedRowOut(row: SpeedRow): FilterDesignAnswerShape['speeds'][number] {
  const out: FilterDesignAnswerShape['speeds'][number] = {
    speed: speedOut(row.speedMPerS),
    interval: figureOut(timeOut, row.intervalS),
    noise: figureOut(speedOut, row.noiseMPerS),
    timeConstant: figureOut(timeOut, row.timeConstantS),
    lagDistance: figureOut(distanceOut, row.lagDistanceM),
    ...effectOut(row),
  }
  if (row.range !== undefined) out.factor = rangeOut(row.range)
  return out
}

function recommendationOut(recommended: FilterDesign['recommended']): FilterDesignAnswerShape['recommended'] {
  const out: FilterDesignAnswerShape['recommended'] = {
    factor: recommended.factor,
    basis: recommended.basis,
    timeConstant: figureOut(timeOut, recommended.timeConstantS),
    ...effectOut(recommended),
  }
  if (recommended.shift !== undefined) {
    out.shift = recommended.shift.bits
    out.shiftFactor = recommended.shift.factor
    out.shiftMeets = recommended.shift.meets
  }
  return out
}

/** The answer of `POST /v1/signals/filter-design`. */
export function filterDesignOut(wire: FilterDesignRequestShape): FilterDesignAnswerShape {
  const design = designFilter(filterDesignOf(wire))
  const out: FilterDesignAnswerShape = {
    feasible: design.range !== undefined,
    recommended: recommendationOut(design.recommended),
    relax: design.relax.map(relaxationOut),
    alternatives: design.alternatives.map(alternativeOut),
    speeds: design.speeds.map(speedRowOut),
    ...provenance(design),
  }
  if (design.range !== undefined) out.factor = rangeOut(design.range)
  return out
}
