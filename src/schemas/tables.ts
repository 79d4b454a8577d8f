import { type Static, Type } from '@sinclair/typebox'
import { listOf, ref, shape } from './named-shapes.js'
import { choice, count } from './plain-values.js'
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
    description: `A table (RFC 4180, UTF-8), its first line naming the columns, in any order; unneeded columns may be left out unless rows replace stored items. At most ${TABLE_ROWS} rows. Columns: ${columns.join(', ')}. A number takes a decimal point. A leading quote (') that keeps a spreadsheet from reading text as a formula is removed.`,
    examples: [example],
  })

const ImportQuery = Type.Object(
  {
    dryRun: Type.Optional(
      Type.Boolean({ default: false, description: 'Report what would happen; store nothing.' }),
    ),
    partial: Type.Optional(
      Type.Boolean({
        default: false,
        description: 'Store the valid rows even if others are invalid. Left out: all rows or none.',
      }),
    ),
  },
  { additionalProperties: false },
)

export const CellProblem = shape('CellProblem', 'What is wrong with one cell of a table.', {
  line: Type.Integer({
    description: 'Line on which the row begins; the first is 1.',
    'x-dimensionless': true,
  }),
  column: Type.String({ description: 'Name of the column.' }),
  value: Type.String({ description: 'Content of the cell, shortened; empty if the cell is empty.' }),
  code: Type.String({ description: 'What is wrong, for programs.' }),
  detail: Type.String({ description: 'What is wrong and what to give instead.' }),
})

const ImportAnswer = shape('ImportAnswer', 'Result of an import.', {
  dryRun: Type.Boolean({
    description: 'Whether this was a dry run: nothing was stored, and the counts say what would happen.',
  }),
  created: count({ minimum: 0, maximum: TABLE_ROWS, description: 'Rows stored as new items.' }),
  replaced: count({ minimum: 0, maximum: TABLE_ROWS, description: 'Rows that replaced a stored item.' }),
  unchanged: count({
    minimum: 0,
    maximum: TABLE_ROWS,
    description: 'Rows equal to the stored item.',
  }),
  rows: Type.Array(
    Type.Object(
      {
        line: Type.Integer({ description: 'Line on which the row begins.', 'x-dimensionless': true }),
        outcome: choice(['created', 'replaced', 'unchanged'], {
          description: 'What was done with the row.',
        }),
        id: Type.Optional(
          Type.String({ description: 'Id of the stored item; absent for a new one in a dry run.' }),
        ),
      },
      { additionalProperties: false },
    ),
    { maxItems: TABLE_ROWS, description: 'Valid rows, in order.' },
  ),
  problems: listOf(CellProblem, 200, 'Faults of the invalid rows, by line; the first 200.'),
  problemCount: Type.Integer({ description: 'Number of faults.', 'x-dimensionless': true }),
})

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
