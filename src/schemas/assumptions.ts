import { Type } from '@sinclair/typebox'
import { named, ref } from './named-shapes.js'
import { choice } from './plain-values.js'

export const Assumption = named(
  'Assumption',
  Type.Object(
    {
      field: Type.String({
        description: 'Field to give in the request instead of this value, as a JSON Pointer.',
      }),
      value: Type.String({ description: 'The value that was used.' }),
      standing: choice(['published', 'from-memory', 'common-practice', 'derived', 'user', 'measured'], {
        description: 'How well it is known; GET /v1/sources explains each word.',
      }),
    },
    {
      additionalProperties: false,
      description: 'A value that the request left out, and what was used instead.',
    },
  ),
)

export const assumptions = Type.Array(ref(Assumption), {
  maxItems: 100,
  description: 'Values that the request left out, and what was used instead.',
})
