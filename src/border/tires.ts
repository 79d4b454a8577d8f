import type { Static } from '@sinclair/typebox'
import { figureOut, figureSi, lengthOut, perDistanceOut, ratioOut, speedOut } from '../codec/measures.js'
import { withPointer } from '../domain/errors.js'
import {
  budget,
  type Figure,
  plusMinus,
  product,
  renamed,
  standardUncertainty,
} from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import type { Mutable } from '../domain/mutable.js'
import { tireChange } from '../domain/tires/comparison.js'
import { type Tire, type TireGeometry, tireGeometry } from '../domain/tires/geometry.js'
import { rollout } from '../domain/tires/rollout.js'
import type { TireSize } from '../domain/tires/size.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import type {
  ComparisonAnswer,
  ComparisonRequest,
  ParsedSize,
  RolloutAnswer,
  RolloutRequest,
  TireGeometryAnswer,
  TireShape,
} from '../schemas/tires.js'
import { provenance } from './provenance.js'

/** The domain form of a tire from a request. */
export function tireOf(wire: TireShape): Tire {
  if ('size' in wire) {
    const tire: Mutable<Extract<Tire, { by: 'size' }>> = { by: 'size', size: wire.size }
    if (wire.construction !== undefined) tire.construction = wire.construction
    if (wire.wear !== undefined) tire.wearM = figureSi('length', wire.wear, 'tire: wear')
    return tire
  }
  if ('overallDiameter' in wire) {
    const overallDiameterM = figureSi('length', wire.overallDiameter, 'tire: overall diameter')
    return wire.construction === undefined
      ? { by: 'overall-diameter', overallDiameterM }
      : { by: 'overall-diameter', overallDiameterM, construction: wire.construction }
  }
  if ('rollingCircumference' in wire) {
    return {
      by: 'rolling-circumference',
      rollingCircumferenceM: figureSi('length', wire.rollingCircumference, 'tire: rolling circumference'),
    }
  }
  return { by: 'turns', turnsPerM: figureSi('perDistance', wire.turns, 'tire: turns per distance') }
}

/** Geometry of the tire at `pointer` in the request. */
export function geometryAt(
  pointer: string,
  wire: TireShape,
  table: SizeTable,
  part: 'body' | 'query' = 'body',
): TireGeometry {
  return withPointer(pointer, () => tireGeometry(tireOf(wire), table), part)
}

function parsedSizeOut(size: TireSize, sectionWidthM: number | undefined): Static<typeof ParsedSize> {
  const out: Static<typeof ParsedSize> = {
    designation: size.designation,
    kind: size.kind,
    construction: size.construction,
    rimDiameter: lengthOut(size.rimDiameterM),
    lightTruck: size.lightTruck,
  }
  if (sectionWidthM !== undefined) out.sectionWidth = lengthOut(sectionWidthM)
  if (size.aspectPercent !== undefined) out.aspectPercent = size.aspectPercent
  if (size.loadIndex !== undefined) out.loadIndex = size.loadIndex
  if (size.speedSymbol !== undefined) out.speedSymbol = size.speedSymbol
  if (size.marks.length > 0) out.marks = [...size.marks]
  return out
}

/** The answer of `POST /v1/tires/geometry`. */
export function tireGeometryOut(geometry: TireGeometry): Static<typeof TireGeometryAnswer> {
  const { model, sources, notes } = provenance(geometry)
  const out: Static<typeof TireGeometryAnswer> = {
    rollingCircumference: figureOut(lengthOut, geometry.rollingCircumferenceM),
    turns: figureOut(perDistanceOut, geometry.turnsPerM),
    basis: geometry.basis,
    budget: budget(geometry.rollingCircumferenceM),
    model,
    sources,
    notes,
  }
  const { overallDiameterM: diameterM, freeCircumferenceM: freeM } = geometry
  if (geometry.size !== undefined) out.size = parsedSizeOut(geometry.size, geometry.sectionWidthM)
  if (geometry.sectionHeightM !== undefined) out.sectionHeight = figureOut(lengthOut, geometry.sectionHeightM)
  if (diameterM !== undefined) {
    const uncertaintyM = plusMinus(diameterM)
    const { mm, in: inch, plusMinus: both } = figureOut(lengthOut, diameterM)
    out.overallDiameter = Object.assign(
      both === undefined ? { mm, in: inch } : { mm, in: inch, plusMinus: both },
      {
        min: lengthOut(geometry.overallDiameterMinM ?? diameterM.value - uncertaintyM),
        max: lengthOut(geometry.overallDiameterMaxM ?? diameterM.value + uncertaintyM),
      },
    )
  }
  if (freeM !== undefined) {
    out.freeCircumference = figureOut(lengthOut, freeM)
    out.freeOverRollingPercent = (freeM.value / geometry.rollingCircumferenceM.value - 1) * 100
  }
  return out
}

/** The answer of `POST /v1/tires/rollout`. */
export function rolloutOut(request: Static<typeof RolloutRequest>): Static<typeof RolloutAnswer> {
  const runs = request.runs.map(({ wheelTurns, distance }) => {
    const figureM = figureSi('distance', distance, 'distance')
    return { wheelTurns, distanceM: figureM.value, uDistanceM: standardUncertainty(figureM) }
  })
  const result = rollout(runs)
  const meanM = result.rollingCircumferenceM.value
  return {
    rollingCircumference: figureOut(lengthOut, result.rollingCircumferenceM),
    turns: figureOut(perDistanceOut, result.turnsPerM),
    runs: result.residualsM.map((residualM, index) => ({
      circumference: lengthOut(meanM + residualM),
      residual: lengthOut(residualM),
      outlier: result.outliers.includes(index),
    })),
    budget: budget(result.rollingCircumferenceM),
    ...provenance({
      sources: ['definitions', 'gum', 'taximeter-course', 'nist-handbook', 'caller-reading'],
      notes: [...result.notes, ROLL_OUT_CAUTION],
    }),
  }
}

const ROLL_OUT_CAUTION: Note = {
  code: 'rolling-a-car',
  level: 'caution',
  text: 'Roll the car on level ground, away from traffic, with one person at the brake and nobody in its way.',
}

/** Tires to compare, as they are known after their sizes were looked up, with the speeds to answer for. */
export interface ComparisonGiven {
  readonly from: TireGeometry
  readonly to: readonly TireGeometry[]
  readonly speeds: Static<typeof ComparisonRequest>['speeds']
}

export function comparisonGiven(
  { from, to, speeds }: Static<typeof ComparisonRequest>,
  table: SizeTable,
): ComparisonGiven {
  return {
    from: geometryAt('/from', from, table),
    to: to.map((tire, index) => geometryAt(`/to/${index}`, tire, table)),
    speeds,
  }
}

/** Rows up to which a comparison is computed at once: some ten milliseconds, most of them for the uncertainties. */
const LIGHT_ROWS = 50

/** Whether to compare at once would keep other callers waiting. */
export const comparisonIsHeavy = ({ to, speeds }: Static<typeof ComparisonRequest>): boolean =>
  to.length * speeds.length > LIGHT_ROWS

/** The answer of `POST /v1/tires/comparison`. */
export function comparisonOut({ from, to, speeds }: ComparisonGiven): Static<typeof ComparisonAnswer> {
  const fromM = apart('before', from)
  const notes = [...from.notes]
  const sources = new Set(from.sources)
  const speedsMPerS = speeds.map((speed) => figureSi('speed', speed, 'speed'))
  const changes = to.map((geometry) => {
    notes.push(...geometry.notes)
    for (const source of geometry.sources) sources.add(source)
    const change = tireChange(fromM, apart('after', geometry))
    return {
      rollingCircumference: figureOut(lengthOut, geometry.rollingCircumferenceM),
      changePercent: change.changePercent.value,
      changePlusMinusPercent: plusMinus(change.changePercent),
      odometerErrorPercent: change.odometerErrorPercent.value,
      indicatedPerTrue: ratioOut(change.indicatedPerTrue),
      speeds: speedsMPerS.map((speedMPerS) => ({
        speed: figureOut(speedOut, speedMPerS),
        trueWhenIndicated: figureOut(speedOut, product(change.truePerIndicated, speedMPerS)),
        indicatedWhenTrue: figureOut(speedOut, product(change.indicatedPerTrue, speedMPerS)),
      })),
    }
  })
  return {
    from: figureOut(lengthOut, from.rollingCircumferenceM),
    to: changes,
    ...provenance({ sources, notes }),
  }
}

/** Rolling circumference of one of several tires in a request; its uncertainties are independent of the others. */
export function apart(which: string, geometry: TireGeometry): Figure {
  return renamed(geometry.rollingCircumferenceM, (input) => `${which} ${input}`)
}
