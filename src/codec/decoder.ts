import type { Static, TSchema } from '@sinclair/typebox'
import type { DimensionName } from '../domain/measure/units.js'
import { quantityOf } from '../schemas/measure-shapes.js'
import { inputOf } from '../schemas/named-shapes.js'
import { fieldRules } from './fields.js'
import { figureReader, ratioFigure, valueReader } from './measures.js'
import { Code, conditionsOf, hasQuantity, shapeOf, siKey } from './plan.js'
import type { Si } from './si.js'

/** Name of an uncertainty in the budget, as code: `{n}` and `{name}` are of the item of the list that is read. */
const labelCode = (label: string): string =>
  label
    .split(/(\{n\}|\{name\})/)
    .filter((part) => part !== '')
    .map((part) => (part === '{n}' || part === '{name}' ? part.slice(1, -1) : JSON.stringify(part)))
    .join(' + ')

/** @throws {RangeError} for a quantity without a name in the budget */
function quantityCode(schema: object, value: string, code: Code, place: string): string {
  const { dimension, use } = quantityOf(schema)!
  if (use === 'set') return `${code.constant(valueReader(dimension as DimensionName))}(${value})`
  if (use !== 'estimate') throw new RangeError(`${place}: a quantity of an answer in a request`)
  const label = inputOf(schema)
  if (label === undefined) throw new RangeError(`${place}: a quantity without a name in the budget`)
  const read = dimension === 'ratio' ? ratioFigure : figureReader(dimension)
  return `${code.constant(read)}(${value}, ${labelCode(label)})`
}

/** Code of the object inside: what is required in a literal, so that all objects of a schema have one shape. */
function objectBody(schema: object, code: Code, place: string): string {
  const { properties = {}, required = [] } = shapeOf(schema)
  const read = (key: string) => valueCode(properties[key]!, `w.${key}`, code, `${place}/${key}`)
  const isRequired = (key: string) => required.includes(key)
  const keys = Object.keys(properties)
  const literal = keys.filter(isRequired).map((key) => `${siKey(key, properties[key]!)}: ${read(key)}`)
  const optional = keys
    .filter((key) => !isRequired(key))
    .map((key) => `if (w.${key} !== undefined) out.${siKey(key, properties[key]!)} = ${read(key)}`)
  return [`const out = { ${literal.join(', ')} }`, ...optional, 'return out'].join('\n')
}

function valueCode(schema: object, value: string, code: Code, place: string): string {
  if (!hasQuantity(schema)) return value
  if (quantityOf(schema) !== undefined) return quantityCode(schema, value, code, place)
  const { items, anyOf } = shapeOf(schema)
  if (items !== undefined) {
    const item = valueCode(items, 'w', code, `${place}/*`)
    return `${value}.map((w, i) => { const n = i + 1, name = w.name; return ${item} })`
  }
  const call = (body: () => string) => `${code.functionFor(schema, 'w, n, name', body)}(${value}, n, name)`
  if (anyOf === undefined) return call(() => objectBody(schema, code, place))
  const objects = anyOf.filter((form) => shapeOf(form).properties !== undefined)
  return call(() =>
    [
      // Forms without fields hold no quantity.
      "if (typeof w !== 'object') return w",
      ...conditionsOf(objects, 'w').map(
        (condition, form) => `if (${condition}) return ${valueCode(objects[form]!, 'w', code, place)}`,
      ),
      'return w',
    ].join('\n'),
  )
}

/**
 * Makes what reads a validated value of a schema: every quantity becomes SI, with the name of its uncertainty in the budget, and what the
 * schema says of fields that need or exclude each other is checked. Compiled at first use.
 *
 * @throws {DomainError} `fields-exclude-each-other`, `needs-another-field`
 */
export function decoder<T extends TSchema>(schema: T): (wire: Static<T>) => Si<Static<T>> {
  let read: ((wire: Static<T>) => Si<Static<T>>) | undefined
  return (wire) => {
    read ??= compiled(schema)
    return read(wire)
  }
}

function compiled<T extends TSchema>(schema: T): (wire: Static<T>) => Si<Static<T>> {
  const code = new Code()
  const convert = code.compile('w, n, name', valueCode(schema, 'w', code, '')) as unknown as (
    wire: Static<T>,
  ) => Si<Static<T>>
  const check = fieldRules(schema)
  if (check === undefined) return convert
  return (wire) => {
    check(wire, '')
    return convert(wire)
  }
}
