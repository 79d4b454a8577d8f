import { type Static, Type } from '@sinclair/typebox'
import { STANDINGS } from '../domain/measure/sources.js'
import { SourceIdShape } from './answers.js'
import { ref, shape } from './named-shapes.js'
import { choice } from './plain-values.js'

export const SourceList = shape('SourceList', 'Every source that an answer can name.', {
  sources: Type.Array(
    Type.Object(
      {
        id: ref(SourceIdShape, 'Id of the source, as answers give it.'),
        title: Type.String({
          description: 'The publication, or a description of the source if it is not published.',
        }),
        standing: choice(STANDINGS, {
          description:
            'published: read for this project; from-memory: published, quoted from memory; common-practice: used in the trade, no source; derived: arithmetic on definitions; user: a stored row; measured: a reading given by the caller.',
        }),
        use: Type.String({ description: 'What the service uses it for.' }),
      },
      { additionalProperties: false },
    ),
    { maxItems: 500, description: 'In the order of the registry.' },
  ),
})

export const UnitList = shape('UnitList', 'Every unit of requests and answers.', {
  dimensions: Type.Array(
    Type.Object(
      {
        dimension: Type.String({ description: 'The quantity.' }),
        si: Type.String({ description: 'Unit in which the service computes.' }),
        units: Type.Array(
          Type.Object(
            {
              key: Type.String({ description: 'Key of the unit in requests and answers.' }),
              name: Type.String({ description: 'Name of the unit.' }),
              ucum: Type.String({ description: 'UCUM code.' }),
              perUnit: Type.Number({
                description: 'SI value of one unit, before any zero point.',
                'x-dimensionless': true,
              }),
              zero: Type.Number({
                description: 'SI value of zero in this unit.',
                'x-dimensionless': true,
              }),
              inAnswers: Type.Boolean({
                description: 'Whether answers carry it; requests may always use it.',
              }),
            },
            { additionalProperties: false },
          ),
          { maxItems: 20, description: 'Its units.' },
        ),
      },
      { additionalProperties: false },
    ),
    { maxItems: 50, description: 'Every quantity.' },
  ),
})

export const ProblemList = shape('ProblemList', 'Every kind of problem.', {
  problems: Type.Array(
    Type.Object(
      {
        code: Type.String({ description: 'The code, last part of type.' }),
        status: Type.Integer({ description: 'HTTP status.', 'x-dimensionless': true }),
        title: Type.String({ description: 'The kind of problem.' }),
        solution: Type.String({ description: 'How to solve it.' }),
      },
      { additionalProperties: false },
    ),
    { maxItems: 500, description: 'Failures of the request first, then of the computation.' },
  ),
})

export type UnitListShape = Static<typeof UnitList>
