import { Type } from '@sinclair/typebox'
import { named } from './named-shapes.js'
import { count, plain } from './plain-values.js'

/** The one filter of the wire: what a firmware does to its readings, stage after stage. */
export const Filter = named(
  'Filter',
  Type.Object(
    {
      median: Type.Optional(
        Type.Unsafe<3 | 5>({
          type: 'integer',
          enum: [3, 5],
          minimum: 3,
          maximum: 5,
          'x-dimensionless': true,
          description: 'First stage: the middle one of the last 3 or 5 readings.',
        }),
      ),
      movingAverage: Type.Optional(
        count({
          minimum: 1,
          maximum: 10_000,
          description: 'Second stage: mean of the last so many readings; readings come once a pulse.',
        }),
      ),
      factor: Type.Optional(
        plain({
          minimum: 0,
          maximum: 1000,
          description: 'Last stage: the factor a of y += a (x - y); above 0 and at most 1.',
        }),
      ),
    },
    {
      additionalProperties: false,
      minProperties: 1,
      description: 'A filter: at least one stage; the stages that are there run in the order of the fields.',
    },
  ),
)
