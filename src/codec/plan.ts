import type { DimensionName } from '../domain/measure/units.js'
import { DIMENSIONS } from '../domain/measure/units.js'
import { type Quantity, quantityOf } from '../schemas/measure-shapes.js'
import { resolved } from '../schemas/named-shapes.js'

/** What the codec knows of a schema. */
export interface ObjectSchema {
  readonly properties?: Readonly<Record<string, object>>
  readonly required?: readonly string[]
  readonly items?: object
  readonly anyOf?: readonly object[]
  readonly const?: unknown
  readonly enum?: readonly unknown[]
}

export const shapeOf = (schema: object): ObjectSchema => resolved(schema) as ObjectSchema

/** Whether a value of the schema, or a part of it, is a quantity: all else passes the codec as it is. */
export function hasQuantity(schema: object): boolean {
  if (quantityOf(schema) !== undefined) return true
  const { properties = {}, items, anyOf = [] } = shapeOf(schema)
  return [...Object.values(properties), ...(items === undefined ? [] : [items]), ...anyOf].some(hasQuantity)
}

const suffixOf = ({ dimension }: Quantity): string =>
  dimension === 'ratio' ? '' : DIMENSIONS[dimension as DimensionName].suffix

/** Name of a field inside the service: its name on the wire and its unit. */
export function siKey(key: string, schema: object): string {
  const { items } = shapeOf(schema)
  const quantity = quantityOf(items ?? schema)
  return quantity === undefined ? key : key + suffixOf(quantity)
}

/** The one value that a schema allows. */
function constOf(schema: object | undefined): unknown {
  if (schema === undefined) return undefined
  const { const: value, enum: values = [] } = shapeOf(schema)
  return values.length === 1 ? values[0] : value
}

/**
 * Conditions that tell the forms of a union from each other, as code over a variable, to be tried in order.
 *
 * @throws {RangeError} where a later form could be taken for an earlier one
 */
export function conditionsOf(forms: readonly object[], variable: string): readonly string[] {
  const shapes = forms.map(shapeOf)
  return shapes.map((one, place) => {
    const { properties = {}, required = [] } = one
    for (const other of shapes.slice(place + 1)) {
      const differs = required.some((key) => {
        const there = other.properties?.[key]
        const [here, beside] = [constOf(properties[key]), constOf(there)]
        return there === undefined || (here !== undefined && beside !== undefined && here !== beside)
      })
      if (!differs)
        throw new RangeError(`forms of a union with the same required fields: ${required.join(', ')}`)
    }
    return required
      .map((key) => {
        const value = constOf(properties[key])
        return value === undefined
          ? `${variable}.${key} !== undefined`
          : `${variable}.${key} === ${JSON.stringify(value)}`
      })
      .join(' && ')
  })
}

/** Code of functions that call each other, compiled together. */
export class Code {
  private readonly constants: unknown[] = []
  private readonly functions: string[] = []
  private readonly made = new Map<object, string>()

  /** Name of a value that the code uses. */
  constant(value: unknown): string {
    const known = this.constants.indexOf(value)
    return `c${known === -1 ? this.constants.push(value) - 1 : known}`
  }

  /** Name of the function for a schema, written where it is asked for first. */
  functionFor(schema: object, parameters: string, body: () => string): string {
    const shape = shapeOf(schema)
    const known = this.made.get(shape)
    if (known !== undefined) return known
    const name = `f${this.made.size}`
    this.made.set(shape, name)
    this.functions.push(`function ${name}(${parameters}) {\n${body()}\n}`)
    return name
  }

  compile(parameters: string, expression: string): (...values: never[]) => unknown {
    const names = this.constants.map((_, place) => `c${place}`)
    // From schemas of our own alone, as the validator is.
    return new Function(...names, `${this.functions.join('\n')}\nreturn (${parameters}) => ${expression}`)(
      ...this.constants,
    )
  }
}
