import { finite } from '../domain/errors.js'
import {
  COVERAGE_FACTOR,
  exact,
  type Figure,
  type Reading,
  statedExact,
  uncertain,
} from '../domain/measure/figure.js'
import { plusMinus } from '../domain/measure/uncertainty.js'
import {
  type AnswerUnitKey,
  DIMENSIONS,
  type DimensionName,
  differenceToSi,
  toSi,
  type Unit,
  type UnitKey,
} from '../domain/measure/units.js'
import type { Measure, MeasureIn, SetMeasureIn } from '../schemas/measure-shapes.js'

/** The value of a quantity from a request, in SI. */
export function valueSi<D extends DimensionName>(dimension: D, wire: MeasureIn<D> | SetMeasureIn<D>): number {
  const key = unitKey<D>(wire)
  return toSi(dimension, key, (wire as Record<string, number>)[key]!)
}

/** The uncertainty of a quantity from a request, 95 %, in SI; 0 if not given. */
export function plusMinusSi<D extends DimensionName>(dimension: D, wire: MeasureIn<D>): number {
  return differenceToSi(dimension, unitKey<D>(wire), wire.plusMinus ?? 0)
}

/** A quantity from a request as a figure in SI; `input` is the name of its uncertainty in budgets. */
export function figureSi<D extends DimensionName>(dimension: D, wire: MeasureIn<D>, input: string): Reading {
  const key = unitKey<D>(wire)
  const value = toSi(dimension, key, (wire as Record<string, number>)[key]!)
  if (wire.plusMinus === undefined) return exact(value)
  if (wire.plusMinus === 0) return statedExact(value)
  return uncertain(value, input, differenceToSi(dimension, key, wire.plusMinus) / COVERAGE_FACTOR)
}

/** What reads a quantity as a figure in SI. */
export const figureReader =
  (dimension: DimensionName) =>
  (wire: MeasureIn<DimensionName>, input: string): Figure =>
    figureSi(dimension, wire as never, input)

/** What reads a quantity that is set or asked for. */
export const valueReader =
  (dimension: DimensionName) =>
  (wire: SetMeasureIn<DimensionName>): number =>
    valueSi(dimension, wire as never)

/** A ratio from a request as a figure. */
export function ratioFigure(wire: number | { value: number; plusMinus?: number }, input: string): Figure {
  if (typeof wire === 'number') return exact(wire)
  return uncertain(wire.value, input, (wire.plusMinus ?? 0) / COVERAGE_FACTOR)
}

/** A dimensionless figure in the form of an answer. */
export function ratioOut(figure: Figure) {
  return { value: figure.value, plusMinus: plusMinus(figure) }
}

function unitKey<D extends DimensionName>(wire: MeasureIn<D> | SetMeasureIn<D>): UnitKey<D> {
  for (const key in wire) if (key !== 'plusMinus') return key as unknown as UnitKey<D>
  throw new RangeError('a measure without a unit key passed its schema')
}

/** Converts an SI value, and its uncertainty if any, to every unit of the answer. */
export type MeasureWriter<D extends DimensionName> = (valueSi: number, plusMinusSi?: number) => Measure<D>

/** Conversion of an SI value to a unit: multiplication or division, whichever has the exact factor. */
function scale({ perUnit, perSi, zero = 0 }: Unit) {
  return { factor: perSi ?? 1, divisor: perSi === undefined ? perUnit : 1, zero }
}

/**
 * Makes the converter of a quantity.
 *
 * @param make - Builds the object of values in the units of the answer, in their order. Each call below writes it out as a literal: an
 *   object with computed keys takes ten times as long to make, and a table has thousands
 */
function writer<D extends DimensionName>(
  dimension: D,
  make: (first: number, second: number) => Measure<D>,
): MeasureWriter<D> {
  const units = DIMENSIONS[dimension].units as Readonly<Record<string, Unit>>
  const [first, second] = DIMENSIONS[dimension].answers as readonly [AnswerUnitKey<D>, AnswerUnitKey<D>?]
  // Look up the factors once: this runs for every number of every table.
  const a = scale(units[first]!)
  const b = scale(units[second ?? first]!)
  return (value, plusMinusSi = 0) => {
    finite(dimension, value)
    finite(dimension, plusMinusSi)
    const out = make(((value - a.zero) * a.factor) / a.divisor, ((value - b.zero) * b.factor) / b.divisor)
    if (plusMinusSi > 0) {
      out.plusMinus = make((plusMinusSi * a.factor) / a.divisor, (plusMinusSi * b.factor) / b.divisor)
    }
    return out
  }
}

export const lengthOut = writer('length', (mm, inch) => ({ mm, in: inch }))
export const distanceOut = writer('distance', (km, mi) => ({ km, mi }))
export const speedOut = writer('speed', (kmh, mph) => ({ kmh, mph }))
export const perDistanceOut = writer('perDistance', (perKm, perMile) => ({ perKm, perMile }))
export const rotationalSpeedOut = writer('rotational-speed', (rpm) => ({ rpm }))
export const frequencyOut = writer('frequency', (hz) => ({ hz }))
export const timeOut = writer('time', (s) => ({ s }))
export const angleOut = writer('angle', (deg) => ({ deg }))
export const voltageOut = writer('voltage', (v) => ({ v }))
export const currentOut = writer('current', (a) => ({ a }))
export const resistanceOut = writer('resistance', (ohm) => ({ ohm }))
export const capacitanceOut = writer('capacitance', (pf, nf) => ({ pf, nf }))
export const temperatureOut = writer('temperature', (c, f) => ({ c, f }))
export const temperatureDifferenceOut = writer('temperatureDifference', (k) => ({ k }))
export const spanOut = writer('span', (m, ft) => ({ m, ft }))
export const areaOut = writer('area', (mm2, in2) => ({ mm2, in2 }))
export const powerOut = writer('power', (w) => ({ w }))
export const energyOut = writer('energy', (j) => ({ j }))
export const powerPerLengthOut = writer('powerPerLength', (wPerM) => ({ wPerM }))
export const resistancePerLengthOut = writer('resistancePerLength', (ohmPerKm) => ({ ohmPerKm }))
export const torqueOut = writer('torque', (mNm, ozIn) => ({ mNm, ozIn }))

const WRITERS: { readonly [D in DimensionName]?: MeasureWriter<D> } = {
  length: lengthOut,
  distance: distanceOut,
  speed: speedOut,
  perDistance: perDistanceOut,
  'rotational-speed': rotationalSpeedOut,
  frequency: frequencyOut,
  time: timeOut,
  torque: torqueOut,
  angle: angleOut,
  voltage: voltageOut,
  current: currentOut,
  resistance: resistanceOut,
  capacitance: capacitanceOut,
  temperature: temperatureOut,
  temperatureDifference: temperatureDifferenceOut,
  span: spanOut,
  area: areaOut,
  power: powerOut,
  energy: energyOut,
  powerPerLength: powerPerLengthOut,
  resistancePerLength: resistancePerLengthOut,
}

/** The converter of a quantity that answers have. */
export function writerOf(dimension: DimensionName): MeasureWriter<DimensionName> {
  const write = WRITERS[dimension]
  if (write === undefined) throw new RangeError(`no answer has a ${dimension}`)
  return write as MeasureWriter<DimensionName>
}

/** A figure in SI in the form of an answer. */
export function figureOut<D extends DimensionName>(write: MeasureWriter<D>, figure: Figure): Measure<D> {
  return write(figure.value, plusMinus(figure))
}
