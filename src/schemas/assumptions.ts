import { Type } from '@sinclair/typebox'
import { STANDINGS } from '../domain/measure/sources.js'
import { listOf, shape } from './named-shapes.js'
import { choice } from './plain-values.js'

export const Assumption = shape(
  'Assumption',
  'A value that the request left out, and what was used instead.',
  {
    field: Type.String({
      description: 'Field to give in the request instead of this value, as a JSON Pointer.',
    }),
    value: Type.String({ description: 'The value that was used.' }),
    standing: choice(STANDINGS, {
      description: 'How well it is known; GET /v1/sources explains each word.',
    }),
  },
)

export const assumptions = listOf(
  Assumption,
  100,
  'Values that the request left out, and what was used instead.',
)
