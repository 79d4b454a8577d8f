import { type Static, Type } from '@sinclair/typebox'
import { choice, count, named, ref } from './measures.js'
import { problems } from './problems.js'
import { LONG, SEARCH } from './rate-weights.js'
import { CreateHeaders, KEY_NEEDED } from './stored.js'

/** Longest table that is read at once [bytes]. */
export const TABLE_BYTES = 4_194_304

export const TABLE_ROWS = 5_000

/** A kind of shared record as a table. */
export interface Table {
  readonly name: string
  readonly columns: readonly string[]
  /** What an import may look like. */
  readonly example: string
}

const tableText = ({ columns, example }: Table) =>
  Type.String({
    maxLength: TABLE_BYTES,
    description: `A table (RFC 4180, UTF-8), its first line naming the columns, in any order; columns that are not needed may be left out where rows replace nothing. At most ${TABLE_ROWS} rows. Columns: ${columns.join(', ')}. A number takes a decimal point. A quote (') before text that a spreadsheet would take for a formula is taken off again.`,
    examples: [example],
  })

const ImportQuery = Type.Object(
  {
    dryRun: Type.Optional(
      Type.Boolean({ default: false, description: 'Say what would happen; store nothing.' }),
    ),
    partial: Type.Optional(
      Type.Boolean({
        default: false,
        description: 'Store the rows that can be stored when others cannot; left out: all or nothing.',
      }),
    ),
  },
  { additionalProperties: false },
)

export const CellProblem = named(
  'CellProblem',
  Type.Object(
    {
      line: Type.Integer({
        description: 'Line on which the row begins; the first is 1.',
        'x-dimensionless': true,
      }),
      column: Type.String({ description: 'Name of the column.' }),
      value: Type.String({ description: 'What stands there, shortened; empty when nothing does.' }),
      code: Type.String({ description: 'What is wrong, for programs.' }),
      detail: Type.String({ description: 'What is wrong and what to give instead.' }),
    },
    { additionalProperties: false, description: 'What is wrong with one cell of a table.' },
  ),
)

const ImportAnswer = named(
  'ImportAnswer',
  Type.Object(
    {
      dryRun: Type.Boolean({ description: 'Whether nothing was stored because none was to be.' }),
      created: count({ minimum: 0, maximum: TABLE_ROWS, description: 'Rows that made something new.' }),
      replaced: count({ minimum: 0, maximum: TABLE_ROWS, description: 'Rows that changed what was there.' }),
      unchanged: count({
        minimum: 0,
        maximum: TABLE_ROWS,
        description: 'Rows that say what is there already.',
      }),
      rows: Type.Array(
        Type.Object(
          {
            line: Type.Integer({ description: 'Line on which the row begins.', 'x-dimensionless': true }),
            outcome: choice(['created', 'replaced', 'unchanged'], { description: 'What came of it.' }),
            id: Type.Optional(
              Type.String({ description: 'Id of the stored thing; absent from a dry run of a new one.' }),
            ),
          },
          { additionalProperties: false },
        ),
        { maxItems: TABLE_ROWS, description: 'Rows without a problem, in their order.' },
      ),
      problems: Type.Array(ref(CellProblem), {
        maxItems: 200,
        description: 'What is wrong with the others, by line; the first 200.',
      }),
      problemCount: Type.Integer({ description: 'How many problems there are.', 'x-dimensionless': true }),
    },
    { additionalProperties: false, description: 'What came of a table.' },
  ),
)

export type ImportAnswerShape = Static<typeof ImportAnswer>

/** What an export has in the contract beside its id and words. */
export const tableExport = ({ name, columns }: Table) => ({
  ...SEARCH,
  response: {
    200: {
      description: 'The table.',
      headers: {
        'content-disposition': Type.String({
          pattern: `^attachment; filename="${name}\\.csv"$`,
          description: 'Name of the file.',
        }),
      },
      content: {
        'text/csv': { schema: { type: 'string', description: `Columns: ${columns.join(', ')}.` } },
      },
    },
    ...problems(503),
  },
})

/** What an import has in the contract beside its id and words. */
export const tableImport = (table: Table) => ({
  ...LONG,
  security: KEY_NEEDED,
  consumes: ['text/csv'],
  headers: CreateHeaders,
  querystring: ImportQuery,
  body: tableText(table),
  response: { 200: ref(ImportAnswer) },
})
