import type { Static, TSchema } from '@sinclair/typebox'
import type { Figure } from '../domain/measure/figure.js'
import { plusMinus } from '../domain/measure/uncertainty.js'
import { quantityOf } from '../schemas/measure-shapes.js'
import { writerOf } from './measures.js'
import { Code, conditionsOf, hasQuantity, shapeOf, siKey } from './plan.js'
import type { Estimate, Range, Si } from './si.js'

const uncertaintyOf = (estimate: Exclude<Estimate, number>): number =>
  'plusMinus' in estimate ? estimate.plusMinus : plusMinus(estimate as Figure)

function estimateWriter(schema: object) {
  const { dimension, use } = quantityOf(schema)!
  if (dimension === 'ratio')
    return (ratio: Estimate) =>
      typeof ratio === 'number'
        ? { value: ratio, plusMinus: 0 }
        : { value: ratio.value, plusMinus: uncertaintyOf(ratio) }
  const write = writerOf(dimension)
  const estimate = (given: Estimate) =>
    typeof given === 'number' ? write(given) : write(given.value, uncertaintyOf(given))
  if (use !== 'range') return estimate
  return (range: Range) =>
    Object.assign(estimate(range.estimate), { min: write(range.min), max: write(range.max) })
}

/** Code of the object on the wire, its fields in the order of the schema. `x` holds those that are not in the result. */
function objectBody(schema: object, code: Code, extras: readonly string[]): string {
  const { properties = {}, required = [] } = shapeOf(schema)
  const keys = Object.keys(properties)
  const place = (key: string) => (extras.includes(key) ? `x.${key}` : `v.${siKey(key, properties[key]!)}`)
  const write = (key: string) => `${key}: ${valueCode(properties[key]!, place(key), code)}`
  const first = keys.findIndex((key) => !required.includes(key))
  const leading = first === -1 ? keys : keys.slice(0, first)
  const rest = keys.slice(leading.length).map((key) => {
    const assign = `out.${key} = ${valueCode(properties[key]!, place(key), code)}`
    return required.includes(key) ? assign : `if (${place(key)} !== undefined) ${assign}`
  })
  return [`const out = { ${leading.map(write).join(', ')} }`, ...rest, 'return out'].join('\n')
}

function valueCode(schema: object, value: string, code: Code): string {
  if (!hasQuantity(schema)) return value
  if (quantityOf(schema) !== undefined) return `${writerCode(schema, code)}(${value})`
  const { items, anyOf } = shapeOf(schema)
  if (items !== undefined) return `${value}.map((v) => ${valueCode(items, 'v', code)})`
  const call = (body: () => string) => `${code.functionFor(schema, 'v, x', body)}(${value})`
  if (anyOf === undefined) return call(() => objectBody(schema, code, []))
  return call(() => unionBody(anyOf, code))
}

const writers = new WeakMap<object, unknown>()

/** One writer a shape, so that the code shares it. */
function writerCode(schema: object, code: Code): string {
  const shape = shapeOf(schema)
  const write = writers.get(shape) ?? estimateWriter(schema)
  writers.set(shape, write)
  return code.constant(write)
}

function unionBody(forms: readonly object[], code: Code): string {
  const objects = forms.filter((form) => shapeOf(form).properties !== undefined)
  const conditions = conditionsOf(objects.map(asInside), 'v')
  return [
    "if (typeof v !== 'object') return v",
    ...conditions.map(
      (condition, form) => `if (${condition}) return ${valueCode(objects[form]!, 'v', code)}`,
    ),
    'return v',
  ].join('\n')
}

/** A form by the names that its fields have inside. */
function asInside(form: object): object {
  const { properties = {}, required = [] } = shapeOf(form)
  return {
    properties: Object.fromEntries(Object.entries(properties).map(([key, one]) => [siKey(key, one), one])),
    required: required.map((key) => siKey(key, properties[key]!)),
  }
}

/**
 * Makes what writes a result by the schema of an answer: every quantity in every unit of the answer, fields in the order of the schema.
 * Compiled at first use.
 *
 * @param extras - Fields that stand in the second argument and not in the result: no object is copied to add them
 */
export function encoder<T extends TSchema, E extends keyof Static<T> & string = never>(
  schema: T,
  extras: readonly E[] = [],
): (result: Si<Omit<Static<T>, E>>, extra: Pick<Static<T>, E>) => Static<T> {
  let write: ((result: unknown, extra: unknown) => Static<T>) | undefined
  return (result, extra) => {
    write ??= compiled(schema, extras)
    return write(result, extra)
  }
}

function compiled<T extends TSchema>(schema: T, extras: readonly string[]) {
  const code = new Code()
  const { properties, items } = shapeOf(schema)
  const expression =
    properties === undefined || items !== undefined
      ? valueCode(schema, 'v', code)
      : `${code.functionFor(schema, 'v, x', () => objectBody(schema, code, extras))}(v, x)`
  return code.compile('v, x', expression) as unknown as (result: unknown, extra: unknown) => Static<T>
}
