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

/** The client disconnected while its request was waiting. */
export const callerLeft = () => new RequestProblem('unavailable', 'The caller left before the answer.')

/** The body of a request has another media type than its operation takes, or does not name one. */
export function wrongMediaType(got: string | undefined, wanted: string): RequestProblem {
  const detail =
    got === undefined
      ? `The body has no Content-Type; send ${wanted}.`
      : `The media type ${got.slice(0, 100)} is not supported here; send ${wanted}.`
  return new RequestProblem('unsupported-media-type', detail)
}

/** Nothing is at the address of a request. */
export function nothingAt({ url }: { readonly url: string }): RequestProblem {
  const path = url.split('?')[0]!.slice(0, 200)
  return new RequestProblem('not-found', `Nothing is at ${path}; the addresses are in /openapi.json.`)
}
