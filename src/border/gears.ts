import type { Static } from '@sinclair/typebox'
import { DomainError, withPointer } from '../domain/errors.js'
import { convergents } from '../domain/gears/convergents.js'
import { bestTrains, fewestStages, type Train, type TrainLimits } from '../domain/gears/trains.js'
import { productsToMake, productTables, type WheelSet, wheelSet } from '../domain/gears/wheels.js'
import type { Note } from '../domain/measure/notes.js'
import { type ExactRatio, ratioOf, ratioOfDecimal } from '../domain/measure/ratio.js'
import type { Train as TrainShape, TrainsAnswer, TrainsRequestShape, WheelsShape } from '../schemas/gears.js'
import { provenance } from './provenance.js'

/** Maximum term of a convergent shown: larger ones are irrelevant for gears. */
const MAX_TERM = 1e9

function wheelsAt(pointer: string, wire: WheelsShape, eachOnce: boolean): WheelSet {
  return withPointer(pointer, () => {
    if (Array.isArray(wire)) return wheelSet(wire, eachOnce)
    if (wire.min > wire.max) {
      throw new DomainError('out-of-range', `min: expected at most max (${wire.max}), got ${wire.min}`, {
        pointer: '/min',
        max: wire.max,
        value: wire.min,
      })
    }
    return wheelSet(
      Array.from({ length: wire.max - wire.min + 1 }, (_, i) => wire.min + i),
      eachOnce,
    )
  })
}

function targetOf(wire: TrainsRequestShape['ratio']): { ratio: ExactRatio; plusMinus: number } {
  if (typeof wire === 'number') return { ratio: ratioOfDecimal(wire), plusMinus: 0 }
  if ('value' in wire) return { ratio: ratioOfDecimal(wire.value), plusMinus: wire.plusMinus ?? 0 }
  return { ratio: ratioOf(wire.numerator, wire.denominator), plusMinus: 0 }
}

function trainOut(train: Train, relativeUncertainty: number): Static<typeof TrainShape> {
  const out: Static<typeof TrainShape> = {
    stages: train.meshes.length,
    teeth: train.meshes.map((one) => ({
      driving: one.driving,
      driven: one.driven,
      ratio: one.driving / one.driven,
      hunting: one.hunting,
      repeatTurns: one.repeatTurns,
    })),
    ratio: train.ratio.valueOf(),
    numerator: Number(train.ratio.n),
    denominator: Number(train.ratio.d),
    errorPercent: train.relativeError * 100,
    exact: train.relativeError === 0,
    reverses: train.meshes.length % 2 === 1,
  }
  if (relativeUncertainty > 0) out.withinUncertainty = Math.abs(train.relativeError) <= relativeUncertainty
  return out
}

/** The wheels of both sides; the same object if both share one shelf. */
function wheelsOf({ teeth, drivenTeeth, eachOnce = false }: TrainsRequestShape) {
  const driving = wheelsAt('/teeth', teeth, eachOnce)
  return {
    driving,
    driven: drivenTeeth === undefined ? driving : wheelsAt('/drivenTeeth', drivenTeeth, eachOnce),
  }
}

const DEFAULT_STAGES = 3

/** Maximum number of products of a search that runs on the request thread: those of 50 wheels in three stages, some tens of milliseconds. */
const LIGHT = 25_000

/** Whether a search would block the request thread. */
export function trainsAreHeavy(request: TrainsRequestShape): boolean {
  const { driving, driven } = wheelsOf(request)
  const stages = request.stages ?? DEFAULT_STAGES
  return productsToMake(driving, stages) + (driven === driving ? 0 : productsToMake(driven, stages)) > LIGHT
}

/** The answer of `POST /v1/gears/trains`. */
export function trainsOut(request: TrainsRequestShape): Static<typeof TrainsAnswer> {
  const { driving, driven } = wheelsOf(request)
  const stages = request.stages ?? DEFAULT_STAGES
  const limits: TrainLimits = { stages, driving, driven, maxTrains: request.maxResults ?? 10 }
  const target = targetOf(request.ratio)
  const tables = productTables(driving, driven, stages)
  const found = bestTrains(target.ratio, limits, tables)
  const value = target.ratio.valueOf()
  const relativeUncertainty = target.plusMinus / value
  const upTo = (count: number) =>
    bestTrains(target.ratio, { ...limits, stages: count, maxTrains: 1 }, tables.slice(0, count)).trains[0]!
  const notes: Note[] = [...found.notes]
  const within = found.trains.filter((train) => Math.abs(train.relativeError) <= relativeUncertainty).length
  if (within > 1) {
    notes.push({
      code: 'trains-within-uncertainty',
      level: 'info',
      text: `${within} of the trains lie within the uncertainty of the ratio: they are not distinguishable, so choose by wheels and stages.`,
    })
  }
  return {
    ratio: { value, plusMinus: target.plusMinus },
    exactRatio: target.ratio.toFraction(),
    trains: found.trains.map((train) => trainOut(train, relativeUncertainty)),
    bestByStages: tables.map((_, index) => ({
      stages: index + 1,
      errorPercent: (index + 1 < stages ? upTo(index + 1) : found.trains[0]!).relativeError * 100,
    })),
    convergents: convergents(target.ratio, MAX_TERM).map((one) => {
      const row: Static<typeof TrainsAnswer>['convergents'][number] = {
        partialQuotient: one.partialQuotient,
        numerator: one.numerator,
        denominator: one.denominator,
        errorPercent: one.relativeError * 100,
      }
      const fewest = fewestStages(ratioOf(one.numerator, one.denominator), limits, tables)
      if (fewest !== undefined) row.stages = fewest
      return row
    }),
    searched: found.searched,
    ...provenance({ ...found, notes }),
  }
}
