import type { RequestProblemCode } from './problem-codes.js'

/** One faulty field of a request, as the answer shows it. */
export interface FieldFault {
  readonly in: 'body' | 'query' | 'path' | 'header'
  readonly pointer: string
  readonly code: string
  readonly detail: string
  /** Of a cell of a table: its line, its column and what stands there. */
  readonly line?: number
  readonly column?: string
  readonly value?: string
}

/** A request that cannot be taken: thrown by hooks, parsers and routes, answered by the problem plugin. */
export class RequestProblem extends Error {
  readonly code: RequestProblemCode
  readonly errors: readonly FieldFault[]
  readonly headers: Readonly<Record<string, string>>

  constructor(
    code: RequestProblemCode,
    detail: string,
    errors: readonly FieldFault[] = [],
    headers: Readonly<Record<string, string>> = {},
  ) {
    super(detail)
    this.name = 'RequestProblem'
    this.code = code
    this.errors = errors
    this.headers = headers
  }
}

/** For those who wait for something that a caller asked, and that nobody reads any more. */
export const callerLeft = () => new RequestProblem('unavailable', 'The caller left before the answer.')
