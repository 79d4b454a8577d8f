import { type Static, type TSchema, type TUnsafe, Type } from '@sinclair/typebox'
import {
  type AnswerUnitKey,
  DIMENSIONS,
  type DimensionName,
  fromSi,
  type Unit,
  type UnitKey,
} from '../domain/measure/units.js'

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

interface Typed<D extends DimensionName | 'ratio', U extends QuantityUse> {
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
const INPUT = Symbol('input')

/** Says of a schema which quantity its values are. In a symbol: the document does not show it. */
const ofQuantity = <T extends object>(schema: T, dimension: DimensionName | 'ratio', use: QuantityUse): T =>
  Object.assign(schema, { [QUANTITY]: { dimension, use } })

/** The quantity of a schema, or of the shape that it refers to; undefined for all else. */
export const quantityOf = (schema: object): Quantity | undefined =>
  (resolved(schema) as { [QUANTITY]?: Quantity })[QUANTITY]

/** Name of the uncertainty of a field in the budget. */
export const inputOf = (schema: object): string | undefined => (schema as { [INPUT]?: string })[INPUT]

/** The schema itself, or the named shape that it refers to. */
export function resolved(schema: object): object {
  const { $ref } = schema as { $ref?: unknown }
  return typeof $ref === 'string' ? (shapeAt($ref) ?? schema) : schema
}

type NamedShape = TSchema & { $id: string }

const NAMED = new Map<string, NamedShape>()

const addressOf = (id: string) => `${id}#`

/**
 * Registers a shape under its name: it becomes a component of the OpenAPI document.
 *
 * @throws {Error} when the name is taken
 */
export function named<T extends TSchema>(id: string, schema: T): T {
  if (NAMED.has(addressOf(id))) throw new Error(`two shapes are named ${id}`)
  const shape = Object.assign(schema, { $id: id })
  NAMED.set(addressOf(id), shape)
  return shape
}

/** Every named shape that was registered so far. */
export const namedShapes = (): readonly NamedShape[] => [...NAMED.values()]

/** The shape that a `$ref` names. */
export const shapeAt = ($ref: string): NamedShape | undefined => NAMED.get($ref)

/** The named shapes that a schema refers to, and those that they refer to. */
export function shapesIn(schema: object): readonly NamedShape[] {
  const found = new Set<NamedShape>()
  const visit = (value: unknown): void => {
    if (typeof value !== 'object' || value === null) return
    for (const inner of Object.values(value)) visit(inner)
    const { $ref } = value as { $ref?: unknown }
    const shape = typeof $ref === 'string' ? shapeAt($ref) : undefined
    if (shape === undefined || found.has(shape)) return
    found.add(shape)
    visit(shape)
  }
  visit(schema)
  return [...found]
}

/**
 * A reference to a named shape, typed as that shape.
 *
 * @param description - What it is in this place; a property needs one, an item of a list is described by its list
 * @param input - Name of its uncertainty in the budget, for a quantity of a request. `{n}` stands for the place in the list that it is
 *   in, from 1, `{name}` for the name of that item
 */
export function ref<T extends TSchema>(schema: T, description?: string, input?: string): TUnsafe<Static<T>> {
  const target = { $ref: addressOf(schema.$id!), ...(input === undefined ? {} : { [INPUT]: input }) }
  return Type.Unsafe<Static<T>>(description === undefined ? target : { ...target, description })
}

/** Text of a closed list. */
export function choice<const T extends string>(values: readonly T[], options: Record<string, unknown> = {}) {
  return Type.Unsafe<T>({ type: 'string', enum: [...values], ...options })
}

/** A plain number: a count, ratio, percentage or index. */
export function plain(options: {
  minimum: number
  maximum: number
  description: string
  [key: string]: unknown
}) {
  return Type.Number({ 'x-dimensionless': true, ...options })
}

/** A whole plain number. */
export function count(options: {
  minimum: number
  maximum: number
  description: string
  [key: string]: unknown
}) {
  return Type.Integer({ 'x-dimensionless': true, ...options })
}

/** A plain number in an answer. */
export function plainOut(description: string) {
  return Type.Number({ 'x-dimensionless': true, description })
}

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
      description: `Uncertainty of the value, 95 % [${unit.name}]${uncertaintyBelow ? ', less than the value' : ''}; left out: taken as exact.`,
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

export const Length = measureOut('Length', 'length', 'A length.')
export const Distance = measureOut('Distance', 'distance', 'A distance along the road.')
export const Speed = measureOut('Speed', 'speed', 'A speed, or a difference of speeds.')
export const PerDistance = measureOut('PerDistance', 'perDistance', 'Turns or pulses per distance.')
export const RotationalSpeed = measureOut('RotationalSpeed', 'rotational-speed', 'A rate of turning.')
export const Frequency = measureOut('Frequency', 'frequency', 'A frequency.')
export const Time = measureOut('Time', 'time', 'A time.')
export const Torque = measureOut('Torque', 'torque', 'A torque.')

export const Angle = measureOut('Angle', 'angle', 'An angle on a dial, clockwise from straight up.')
export const Voltage = measureOut('Voltage', 'voltage', 'A voltage.')
export const Current = measureOut('Current', 'current', 'A current.')
export const Resistance = measureOut('Resistance', 'resistance', 'A resistance.')
export const Capacitance = measureOut('Capacitance', 'capacitance', 'A capacitance.')
export const Temperature = measureOut('Temperature', 'temperature', 'A temperature.')
export const TemperatureDifference = measureOut(
  'TemperatureDifference',
  'temperatureDifference',
  'A difference of two temperatures.',
)
export const Span = measureOut('Span', 'span', 'Length of a lead, or radius of a bend.')
export const Area = measureOut('Area', 'area', 'An area.')
export const Power = measureOut('Power', 'power', 'A power.')
export const Energy = measureOut('Energy', 'energy', 'An energy.')
export const PowerPerLength = measureOut('PowerPerLength', 'powerPerLength', 'Heat per length.')
export const ResistancePerLength = measureOut(
  'ResistancePerLength',
  'resistancePerLength',
  'Resistance per length of one conductor.',
)

export const TireLengthIn = measureIn('TireLengthIn', 'length', {
  min: 0.1,
  max: 10,
  description: 'Diameter or rolling circumference of a tire.',
})
export const TreadWearIn = measureIn('TreadWearIn', 'length', {
  min: 0,
  max: 0.05,
  description: 'Loss of tread depth against new.',
})
export const DistanceIn = measureIn('DistanceIn', 'distance', {
  min: 0.1,
  max: 5e9,
  description: 'A distance along the road.',
})
export const SpeedIn = measureIn('SpeedIn', 'speed', {
  min: 0.01,
  max: 280,
  description: 'A speed.',
})
export const SetSpeedIn = measureIn('SetSpeedIn', 'speed', {
  min: 0.01,
  max: 280,
  description:
    'A speed that is set or asked for, not measured: a top speed, a mark of a dial, a point of a table.',
  uncertainty: false,
})
export const SpeedDifferenceIn = measureIn('SpeedDifferenceIn', 'speed', {
  min: -60,
  max: 60,
  description: 'A difference of two speeds.',
})
export const PerDistanceIn = measureIn('PerDistanceIn', 'perDistance', {
  min: 1e-3,
  max: 1e4,
  description: 'Turns or pulses per distance.',
})
export const SetPerDistanceIn = measureIn('SetPerDistanceIn', 'perDistance', {
  min: 1e-3,
  max: 1e4,
  description: 'Turns or pulses per distance that are set or computed, not measured.',
  uncertainty: false,
})
export const TimeIn = measureIn('TimeIn', 'time', { min: 1e-8, max: 1e6, description: 'A time.' })
export const SetTimeIn = measureIn('SetTimeIn', 'time', {
  min: 1e-8,
  max: 1e6,
  description: 'A time that is set, not measured: a time-out, a step of a timer.',
  uncertainty: false,
})
export const FrequencyIn = measureIn('FrequencyIn', 'frequency', {
  min: 1e-3,
  max: 1e9,
  description: 'A frequency.',
})

/** A ratio in a request: a plain number, or a value with its uncertainty. */
/** Beside two figures of one fit. */
export const CorrelationIn = plain({
  minimum: -1,
  maximum: 1,
  description:
    'Correlation of scale and offset, as their calibration gives it; counts where both carry their uncertainty. Left out: 0.',
})

export const RatioIn = named(
  'RatioIn',
  Type.Unsafe<number | ({ value: number; plusMinus?: number } & Typed<'ratio', 'estimate'>)>(
    ofQuantity(
      {
        description:
          'A ratio: a plain number taken as exact, or { value, plusMinus } with its uncertainty (95 %).',
        anyOf: [
          {
            type: 'number',
            minimum: 0.001,
            maximum: 10_000,
            'x-dimensionless': true,
            description: 'The ratio.',
          },
          {
            type: 'object',
            additionalProperties: false,
            required: ['value'],
            properties: {
              value: {
                type: 'number',
                minimum: 0.001,
                maximum: 10_000,
                'x-dimensionless': true,
                description: 'The ratio.',
              },
              plusMinus: {
                type: 'number',
                minimum: 0,
                maximum: 10_000,
                'x-dimensionless': true,
                description: 'Uncertainty of the ratio, 95 %, less than the ratio; left out: taken as exact.',
              },
            },
            [PLUS_MINUS_BELOW]: 'value',
          },
        ],
      },
      'ratio',
      'estimate',
    ),
  ),
)

/** A ratio in an answer. */
export const Ratio = named(
  'Ratio',
  Type.Unsafe<{ value: number; plusMinus: number } & Typed<'ratio', 'answer'>>(
    ofQuantity(
      Type.Object(
        {
          value: plainOut('The ratio.'),
          plusMinus: plainOut('Uncertainty of the ratio, 95 %; 0 when none of its inputs has any.'),
        },
        { additionalProperties: false, description: 'A ratio with its uncertainty.' },
      ),
      'ratio',
      'answer',
    ),
  ),
)
