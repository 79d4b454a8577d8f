import { Type } from '@sinclair/typebox'

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
