import { type Static, Type } from '@sinclair/typebox'
import { count, named, plain } from './measures.js'

/** How successive speed values are smoothed: median first, then moving average, then exponential. */
export const Filter = named(
  'Filter',
  Type.Object(
    {
      median: Type.Optional(
        Type.Unsafe<3 | 5>({
          type: 'integer',
          enum: [3, 5],
          'x-dimensionless': true,
          minimum: 3,
          maximum: 5,
          description: 'Median of so many values.',
        }),
      ),
      movingAverage: Type.Optional(
        count({ minimum: 2, maximum: 10_000, description: 'Mean of so many periods.' }),
      ),
      factor: Type.Optional(
        plain({
          minimum: 0.0001,
          maximum: 1,
          description: 'Smoothing factor a of y += a (x - y); 1 smooths nothing.',
        }),
      ),
    },
    {
      additionalProperties: false,
      minProperties: 1,
      description: 'A filter; what is given is applied in the order median, movingAverage, factor.',
    },
  ),
)

export type FilterShape = Static<typeof Filter>
