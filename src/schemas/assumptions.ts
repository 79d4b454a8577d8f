import { Type } from '@sinclair/typebox'
import { choice, named, ref } from './measures.js'

export const Assumption = named(
  'Assumption',
  Type.Object(
    {
      field: Type.String({ description: 'Field of the request that replaces it, as a JSON Pointer.' }),
      value: Type.String({ description: 'What was taken.' }),
      standing: choice(['published', 'from-memory', 'common-practice', 'derived', 'user', 'measured'], {
        description: 'How good it is; GET /v1/sources explains the words.',
      }),
    },
    {
      additionalProperties: false,
      description: 'A figure that the request left open, and what was taken in its place.',
    },
  ),
)

export const assumptions = Type.Array(ref(Assumption), {
  maxItems: 100,
  description: 'What the request left open and what was taken.',
})
