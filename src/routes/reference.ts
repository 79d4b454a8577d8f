import { type Static, Type } from '@sinclair/typebox'
import { ERRORS } from '../domain/errors.js'
import { SOURCES } from '../domain/measure/sources.js'
import { DIMENSIONS, type Dimension } from '../domain/measure/units.js'
import { DOMAIN_STATUS, REQUEST_PROBLEMS } from '../http/problem-codes.js'
import { RequestProblem } from '../http/request-problem.js'
import { ref } from '../schemas/named-shapes.js'
import { ProblemList, SourceList, UnitList, type UnitListShape } from '../schemas/reference.js'
import type { App } from './options.js'

const tags = ['reference']

type SourceRow = Static<typeof SourceList>['sources'][number]
type ProblemRow = Static<typeof ProblemList>['problems'][number]

const sources = Object.entries(SOURCES).map(([id, source]) => ({ id, ...source }) as SourceRow)

const dimensions: UnitListShape['dimensions'] = Object.entries<Dimension>(DIMENSIONS).map(
  ([dimension, { si, units, answers }]) => ({
    dimension,
    si,
    units: Object.entries(units).map(([key, { name, ucum, perUnit, zero = 0 }]) => ({
      key,
      name,
      ucum,
      perUnit,
      zero,
      inAnswers: answers.includes(key),
    })),
  }),
)

const problemRows: ProblemRow[] = [
  ...Object.entries(REQUEST_PROBLEMS).map(([code, row]) => ({ code, ...row })),
  ...Object.entries(ERRORS).map(([code, row]) => ({
    code,
    status: DOMAIN_STATUS[code as keyof typeof ERRORS],
    ...row,
  })),
]

export function referenceRoutes(app: App): void {
  app.get(
    '/v1/sources',
    {
      schema: {
        operationId: 'listSources',
        summary: 'Sources',
        description: 'Every source that an answer can name, with its standing.',
        tags,
        response: { 200: ref(SourceList) },
      },
    },
    () => ({ sources }),
  )

  app.get(
    '/v1/units',
    {
      schema: {
        operationId: 'listUnits',
        summary: 'Units',
        description: 'Every unit of requests and answers, with its exact value in SI units.',
        tags,
        response: { 200: ref(UnitList) },
      },
    },
    () => ({ dimensions }),
  )

  app.get(
    '/problems',
    {
      schema: {
        operationId: 'listProblems',
        summary: 'Kinds of problem',
        description: 'Every kind of problem and how to solve it.',
        tags,
        response: { 200: ref(ProblemList) },
      },
    },
    () => ({ problems: problemRows }),
  )

  app.get(
    '/problems/:code',
    {
      schema: {
        operationId: 'getProblem',
        summary: 'One kind of problem',
        description: 'The page that type of a problem answer points to.',
        tags,
        params: Type.Object(
          { code: Type.String({ maxLength: 100, description: 'The code.', examples: ['invalid-request'] }) },
          { additionalProperties: false },
        ),
        response: { 200: ProblemList.properties.problems.items },
      },
    },
    (request) => {
      const row = problemRows.find(({ code }) => code === request.params.code)
      if (row === undefined)
        throw new RequestProblem('not-found', 'There is no such kind of problem; see /problems.')
      return row
    },
  )
}
