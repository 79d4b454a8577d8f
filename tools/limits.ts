import { resolved } from '../src/reference/references.js'
import { UNIT_KEYS } from './excerpt.js'
import type { OpenApiDocument, Schema } from './operations.js'

/** Schemas shared by many requests, and the subject whose calls show them in full. */
const SHARED: Readonly<Record<string, string>> = {
  Tire: 'tires',
  Stage: 'drive-paths',
  OpenStage: 'drive-paths',
  Head: 'drive-paths',
  Rule: 'gauges',
  DialErrors: 'drive-paths',
}
const DEEPEST = 1

const nameOf = ({ $ref }: Schema) => $ref?.split('/').at(-1)

const shown = (bound = Number.NaN) =>
  Math.abs(bound) < 1e6 ? String(bound) : bound.toExponential().replace('+', '')

const range = ({ minimum, exclusiveMinimum, maximum }: Schema) =>
  `${exclusiveMinimum === undefined ? shown(minimum) : `above ${shown(exclusiveMinimum)}`} to ${shown(maximum)}`

/** Bounds of a measure in the first of its units; of a ratio, as a plain number. */
function valueRange(shape: Schema): string | undefined {
  const branches = shape.anyOf ?? [shape]
  const plain = branches.find(({ type }) => type === 'number')
  const [key, ...more] = branches.find(({ type }) => type === 'object')?.required ?? []
  const value = branches.find(({ type }) => type === 'object')?.properties?.[key ?? '']
  if (key === undefined || more.length > 0 || value === undefined) return undefined
  if (plain !== undefined && key === 'value') return range(plain)
  return UNIT_KEYS.has(key) && value['x-unit'] !== undefined ? `${range(value)} ${key}` : undefined
}

/** Bounds in the schema of a request: numbers, measures and lists, by field. */
export function limitsOf(document: OpenApiDocument, request: Schema, subject: string): string[] {
  const found = new Map<string, string>()
  const visit = (schema: Schema, path: string, depth: number): void => {
    const name = nameOf(schema)
    if (name !== undefined && (SHARED[name] ?? subject) !== subject) return
    const shape = resolved(document, schema)
    const measure = valueRange(shape)
    if (measure !== undefined) {
      if (!found.has(path)) found.set(path, measure)
    } else if (shape.type === 'number' || shape.type === 'integer') {
      if (!found.has(path)) found.set(path, range(shape))
    } else if (shape.type === 'array') {
      found.set(`${path}[]`, `${shape.minItems ?? 0} to ${shape.maxItems} items`)
      if (shape.items !== undefined && depth < DEEPEST) visit(shape.items, `${path}[]`, depth + 1)
    } else if (shape.anyOf !== undefined) {
      for (const branch of shape.anyOf) visit(branch, path, depth)
    } else if (shape.properties !== undefined && depth <= DEEPEST) {
      for (const [key, inner] of Object.entries(shape.properties))
        visit(inner, path === '' ? key : `${path}.${key}`, depth + (path === '' ? 0 : 1))
    }
  }
  visit(request, '', 0)
  return [...found].map(([path, bounds]) => `\`${path}\` ${bounds}`)
}
