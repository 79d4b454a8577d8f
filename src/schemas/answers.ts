import { type Static, type TProperties, Type } from '@sinclair/typebox'
import { SOURCES, type SourceId } from '../domain/measure/sources.js'
import { named, ref, shape } from './named-shapes.js'
import { choice, plainOut } from './plain-values.js'

export const Note = shape('Note', 'A remark that goes with an answer.', {
  code: Type.String({ description: 'Subject of the note; stable, for programs.' }),
  level: choice(['info', 'caution'], {
    description: 'caution: may cause injury or a fine, or make the result unusable; info: good to know.',
  }),
  text: Type.String({ description: 'The note, for people.' }),
})

export const BudgetLine = shape(
  'BudgetLine',
  'One line of an uncertainty budget. To reduce the uncertainty, measure the input with the largest share better.',
  {
    input: Type.String({ description: 'Input of the computation that contributes to the uncertainty.' }),
    sharePercent: plainOut('Share of the variance [%]; the lines add up to 100.'),
  },
)

export const SourceIdShape = named(
  'SourceId',
  choice(Object.keys(SOURCES) as SourceId[], {
    description: 'Id of a source; GET /v1/sources explains it.',
  }),
)

export const Series = shape('Series', 'A line of a plot.', {
  name: Type.String({ description: 'What the line shows.' }),
  unit: Type.String({
    description: 'Units of x and y, separated by a comma; a single unit is that of both.',
  }),
  points: Type.Array(
    Type.Array(Type.Number({ description: 'x, then y, in the unit named.', 'x-dimensionless': true }), {
      minItems: 2,
      maxItems: 2,
    }),
    { maxItems: 10_000, description: 'Pairs [x, y], x ascending.' },
  ),
})

/** Header of an answer that comes in several forms. */
export const VARY = {
  vary: Type.String({ pattern: 'accept', description: 'The form depends on Accept.' }),
}

const provenance = {
  model: Type.String({ description: 'Version of the computations that gave this answer.' }),
  sources: Type.Array(ref(SourceIdShape), {
    description: 'Sources of the formulas and table values used.',
    maxItems: 100,
  }),
  notes: Type.Array(ref(Note), { description: 'Remarks and cautions.', maxItems: 100 }),
}

/** The answer of a calculation: its own fields, then model, sources and notes. */
export function calculationAnswer<T extends TProperties>(id: string, description: string, fields: T) {
  return named(id, Type.Object({ ...fields, ...provenance }, { additionalProperties: false, description }))
}

export type Provenance = {
  model: string
  sources: Static<typeof SourceIdShape>[]
  notes: Static<typeof Note>[]
}
