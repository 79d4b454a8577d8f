import { type TUnsafe, Type } from '@sinclair/typebox'
import {
  type AnswerUnitKey,
  DIMENSIONS,
  type DimensionName,
  fromSi,
  type Unit,
  type UnitKey,
} from '../domain/measure/units.js'
import { named, ref, resolved } from './named-shapes.js'

/** Key of what the type of a quantity says to the codec; no value has it. */
export declare const QUANTITY_TYPE: unique symbol

/**
 * How a quantity is used. `estimate`: measured, with or without an uncertainty. `set`: chosen or asked for, exact. `answer`: in an
 * answer. `range`: in an answer, with a smallest and a largest value.
 */
export type QuantityUse = 'estimate' | 'set' | 'answer' | 'range'

/** What a schema says of its quantity: `ratio` has no dimension. */
export interface Quantity<
  D extends DimensionName | 'ratio' = DimensionName | 'ratio',
  U extends QuantityUse = QuantityUse,
> {
  readonly dimension: D
  readonly use: U
}

export interface Typed<D extends DimensionName | 'ratio', U extends QuantityUse> {
  readonly [QUANTITY_TYPE]?: Quantity<D, U>
}

/** A quantity in a request: exactly one unit key, and the uncertainty (95 %, same unit) where it is known. */
export type MeasureIn<D extends DimensionName> = {
  [K in UnitKey<D>]: { [P in K]: number } & { plusMinus?: number } & Typed<D, 'estimate'>
}[UnitKey<D>]

/** A quantity in a request that is set or asked for: exactly one unit key. */
export type SetMeasureIn<D extends DimensionName> = {
  [K in UnitKey<D>]: { [P in K]: number } & Typed<D, 'set'>
}[UnitKey<D>]

/** A quantity in an answer: every unit of the dimension. */
export type Measure<D extends DimensionName> = { [K in AnswerUnitKey<D>]: number } & {
  plusMinus?: { [K in AnswerUnitKey<D>]: number }
} & Typed<D, 'answer'>

/** A quantity in an answer with its smallest and largest value. */
export type RangedMeasure<D extends DimensionName> = Omit<Measure<D>, typeof QUANTITY_TYPE> & {
  min: Measure<D>
  max: Measure<D>
} & Typed<D, 'range'>

const QUANTITY = Symbol('quantity')

/** Says of a schema which quantity its values are. In a symbol: the document does not show it. */
export const ofQuantity = <T extends object>(
  schema: T,
  dimension: DimensionName | 'ratio',
  use: QuantityUse,
): T => Object.assign(schema, { [QUANTITY]: { dimension, use } })

/** The quantity of a schema, or of the shape that it refers to; undefined for all else. */
export const quantityOf = (schema: object): Quantity | undefined =>
  (resolved(schema) as { [QUANTITY]?: Quantity })[QUANTITY]

const units = (dimension: DimensionName) =>
  Object.entries(DIMENSIONS[dimension].units as Readonly<Record<string, Unit>>)

/** Bounds in documents are easier to read, and as good, at four digits; rounded outward, so none is refused by it. */
const outward = (value: number, up: boolean) => {
  if (value === 0) return 0
  const step = 10 ** (Math.floor(Math.log10(Math.abs(value))) - 3)
  const rounded = (up ? Math.ceil(value / step - 1e-9) : Math.floor(value / step + 1e-9)) * step
  return Number(rounded.toPrecision(4))
}

/** Word of the contract: the uncertainty of an object is less than its value, which stands under the key that is given. */
export const PLUS_MINUS_BELOW = 'x-plus-minus-below'

/** What is neither zero nor below: an uncertainty as large as the value would leave nothing of it. */
const NEVER_ZERO: ReadonlySet<DimensionName> = new Set(['length', 'distance', 'span', 'perDistance'])

/**
 * The request shape of a quantity: one closed object a unit.
 *
 * @param bounds - Smallest and largest value, in the SI unit of the dimension; `uncertainty: false` for what is set or asked for and
 *   not measured: a rating, a time-out, a point of a table. It then takes no plusMinus, which would be of no use.
 */
export function measureIn<
  D extends DimensionName,
  B extends { min: number; max: number; description: string; uncertainty?: false },
>(id: string, dimension: D, bounds: B) {
  const uncertaintyBelow = NEVER_ZERO.has(dimension) && bounds.min > 0 && bounds.uncertainty !== false
  const branches = units(dimension).map(([key, unit]) => {
    const maximum = outward(fromSi(dimension, key as UnitKey<D>, bounds.max), true)
    const value = {
      type: 'number',
      minimum: outward(fromSi(dimension, key as UnitKey<D>, bounds.min), false),
      maximum,
      description: `Value [${unit.name}].`,
      'x-unit': unit.ucum,
    }
    const plusMinus = {
      type: 'number',
      minimum: 0,
      maximum: Math.abs(maximum),
      description: `Uncertainty of the value, 95 % [${unit.name}]; left out: taken as exact.`,
      'x-unit': unit.ucum,
    }
    return {
      type: 'object',
      title: unit.name,
      additionalProperties: false,
      required: [key],
      properties: bounds.uncertainty === false ? { [key]: value } : { [key]: value, plusMinus },
      ...(uncertaintyBelow ? { [PLUS_MINUS_BELOW]: key } : {}),
    }
  })
  const shape =
    branches.length === 1
      ? { ...branches[0], description: bounds.description }
      : { description: `${bounds.description} Exactly one unit key.`, anyOf: branches }
  type Wire = B extends { uncertainty: false } ? SetMeasureIn<D> : MeasureIn<D>
  return named(
    id,
    Type.Unsafe<Wire>(ofQuantity(shape, dimension, bounds.uncertainty === false ? 'set' : 'estimate')),
  )
}

/** The answer shape of a quantity: every unit, and the uncertainty in every unit. */
export function measureOut<D extends DimensionName>(id: string, dimension: D, description: string) {
  const keys = DIMENSIONS[dimension].answers as readonly string[]
  const byUnit = Object.fromEntries(
    keys.map((key) => {
      const unit = (DIMENSIONS[dimension].units as Readonly<Record<string, Unit>>)[key]!
      return [key, { type: 'number', description: `Value [${unit.name}].`, 'x-unit': unit.ucum }]
    }),
  )
  return named(
    id,
    Type.Unsafe<Measure<D>>(
      ofQuantity(
        {
          type: 'object',
          description,
          additionalProperties: false,
          required: keys,
          properties: {
            ...byUnit,
            plusMinus: {
              type: 'object',
              description: 'Uncertainty of the value, 95 %.',
              additionalProperties: false,
              required: keys,
              properties: byUnit,
            },
          },
        },
        dimension,
        'answer',
      ),
    ),
  )
}

/** The answer shape of a quantity with its smallest and largest value. */
export function rangedOut<D extends DimensionName>(
  id: string,
  measure: TUnsafe<Measure<D>>,
  description: string,
  ends: { min: string; max: string },
) {
  const { dimension } = quantityOf(measure)! as Quantity<D>
  return named(
    id,
    Type.Unsafe<RangedMeasure<D>>(
      ofQuantity(
        {
          ...measure,
          description,
          required: [...measure.required, 'min', 'max'],
          properties: {
            ...measure.properties,
            min: ref(measure, ends.min),
            max: ref(measure, ends.max),
          },
        },
        dimension,
        'range',
      ),
    ),
  )
}
