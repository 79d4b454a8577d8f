import { finite } from '../domain/errors.js'
import {
  COVERAGE_FACTOR,
  exact,
  type Figure,
  type Reading,
  statedExact,
  uncertain,
} from '../domain/measure/figure.js'
import {
  type AnswerUnitKey,
  DIMENSIONS,
  type DimensionName,
  differenceToSi,
  toSi,
  type Unit,
} from '../domain/measure/units.js'
import type { Measure } from '../schemas/measure-shapes.js'

type WireMeasure = Readonly<Record<string, number | undefined>>

/** What reads a quantity as a figure in SI; `input` is the name of its uncertainty in budgets. */
export const figureReader =
  (dimension: DimensionName) =>
  (wire: WireMeasure, input: string): Reading => {
    const key = unitKey(wire)
    const value = toSi(dimension, key, wire[key]!)
    const { plusMinus } = wire
    if (plusMinus === undefined) return exact(value)
    if (plusMinus === 0) return statedExact(value)
    return uncertain(value, input, differenceToSi(dimension, key, plusMinus) / COVERAGE_FACTOR)
  }

/** What reads a quantity that is set or asked for. */
export const valueReader =
  (dimension: DimensionName) =>
  (wire: WireMeasure): number => {
    const key = unitKey(wire)
    return toSi(dimension, key, wire[key]!)
  }

/** A ratio from a request as a figure. */
export function ratioFigure(wire: number | { value: number; plusMinus?: number }, input: string): Figure {
  if (typeof wire === 'number') return exact(wire)
  return uncertain(wire.value, input, (wire.plusMinus ?? 0) / COVERAGE_FACTOR)
}

/** The unit key of a measure: the schema admits exactly one, of its dimension. */
function unitKey(wire: WireMeasure): never {
  for (const key in wire) if (key !== 'plusMinus') return key as never
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

const WRITERS: { readonly [D in DimensionName]?: MeasureWriter<D> } = {
  length: writer('length', (mm, inch) => ({ mm, in: inch })),
  distance: writer('distance', (km, mi) => ({ km, mi })),
  speed: writer('speed', (kmh, mph) => ({ kmh, mph })),
  perDistance: writer('perDistance', (perKm, perMile) => ({ perKm, perMile })),
  'rotational-speed': writer('rotational-speed', (rpm) => ({ rpm })),
  frequency: writer('frequency', (hz) => ({ hz })),
  time: writer('time', (s) => ({ s })),
  angle: writer('angle', (deg) => ({ deg })),
  voltage: writer('voltage', (v) => ({ v })),
  current: writer('current', (a) => ({ a })),
  resistance: writer('resistance', (ohm) => ({ ohm })),
  motorConstant: writer('motorConstant', (mNmPerA, vPerKrpm) => ({ mNmPerA, vPerKrpm })),
  luminance: writer('luminance', (cdPerM2) => ({ cdPerM2 })),
  illuminance: writer('illuminance', (lx) => ({ lx })),
  visualAngle: writer('visualAngle', (arcmin) => ({ arcmin })),
  capacitance: writer('capacitance', (pf, nf) => ({ pf, nf })),
  temperature: writer('temperature', (c, f) => ({ c, f })),
  temperatureDifference: writer('temperatureDifference', (k) => ({ k })),
  span: writer('span', (m, ft) => ({ m, ft })),
  area: writer('area', (mm2, in2) => ({ mm2, in2 })),
  power: writer('power', (w) => ({ w })),
  energy: writer('energy', (j) => ({ j })),
  powerPerLength: writer('powerPerLength', (wPerM) => ({ wPerM })),
  resistancePerLength: writer('resistancePerLength', (ohmPerKm) => ({ ohmPerKm })),
  mass: writer('mass', (kg, lb) => ({ kg, lb })),
  force: writer('force', (n, lbf) => ({ n, lbf })),
  stress: writer('stress', (mpa, psi) => ({ mpa, psi })),
  unbalance: writer('unbalance', (gMm, ozIn) => ({ gMm, ozIn })),
  torque: writer('torque', (mNm, ozIn) => ({ mNm, ozIn })),
}

/** The converter of a quantity that answers have. */
export function writerOf(dimension: DimensionName): MeasureWriter<DimensionName> {
  const write = WRITERS[dimension]
  if (write === undefined) throw new RangeError(`no answer has a ${dimension}`)
  return write as MeasureWriter<DimensionName>
}
