import { expect } from 'vitest'
import { faultsOf } from './contract.js'

/** An answer, of `inject` or of a socket. */
export interface AnswerLike {
  readonly statusCode: number
  readonly headers: Readonly<Record<string, unknown>>
  readonly body: string
}

export interface ProblemBody {
  type: string
  title: string
  status: number
  code: string
  detail: string
  requestId: string
  errors?: Array<{ in: string; pointer: string; code: string; detail: string }>
}

const PROBLEM = { $ref: '#/components/schemas/Problem' }

/** Words that only come from inside: stacks, paths, SQL, names of libraries. */
const INSIDE =
  /\bat \S+:\d+|node_modules|node:|\.[jt]s\b|\/src\/|\/dist\/|SELECT |INSERT |SQLITE|FST_ERR|ERR_|ajv|fastify/i

/** Checks that an answer has the one shape of every error, and gives it. */
export function expectProblem(answer: AnswerLike, status: number, code: string): ProblemBody {
  const mediaType = String(answer.headers['content-type']).split(';')[0]
  expect([answer.statusCode, mediaType], answer.body).toEqual([status, 'application/problem+json'])
  const problem = JSON.parse(answer.body) as ProblemBody
  const said = [problem.code, problem.status, problem.type]
  expect([...said, faultsOf(PROBLEM, problem)], answer.body).toEqual([code, status, `/problems/${code}`, []])
  expect(problem.detail.length).toBeGreaterThan(10)
  // The id is a number to the base 36, which spells anything in time.
  expect(JSON.stringify({ ...problem, requestId: '' })).not.toMatch(INSIDE)
  return problem
}
