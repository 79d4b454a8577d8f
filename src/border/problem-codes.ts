import type { ErrorCode } from '../domain/errors.js'

/** Failures of the request itself, before or beside any computation. */
export const REQUEST_PROBLEMS = {
  'invalid-request': {
    status: 400,
    title: 'Request does not fit its schema',
    solution: 'Each item of errors names a field by JSON Pointer and says what to give instead.',
  },
  'malformed-json': {
    status: 400,
    title: 'Body is not JSON',
    solution:
      'Send JSON text (RFC 8259) in UTF-8, with a closing bracket for each opening one and no trailing comma.',
  },
  'duplicate-key': {
    status: 400,
    title: 'A key stands twice in one object',
    solution: 'Keep one of the two: the service does not guess which was meant.',
  },
  'nested-too-deep': {
    status: 400,
    title: 'Body is nested too deep',
    solution: 'No request needs more than 64 levels of brackets.',
  },
  'malformed-url': {
    status: 400,
    title: 'Address cannot be decoded',
    solution: 'Percent-encode the address in UTF-8; a bare % is %25.',
  },
  'malformed-http': {
    status: 400,
    title: 'Not an HTTP request',
    solution: 'Use an HTTP/1.1 client.',
  },
  'not-found': {
    status: 404,
    title: 'Nothing at this address',
    solution: 'The addresses are in /openapi.json.',
  },
  'method-not-allowed': {
    status: 405,
    title: 'Method not allowed here',
    solution: 'Use one of the methods in the Allow header.',
  },
  'not-acceptable': {
    status: 406,
    title: 'No such representation',
    solution: 'Ask for one of the media types that the detail names, or leave Accept out.',
  },
  'request-timeout': {
    status: 408,
    title: 'Request did not arrive in time',
    solution: 'Send the whole request without long pauses.',
  },
  'body-too-large': {
    status: 413,
    title: 'Body too large',
    solution: 'Send less at once; the detail names the limit.',
  },
  'unsupported-media-type': {
    status: 415,
    title: 'Body in a form this address does not take',
    solution:
      'Send Content-Type: application/json in UTF-8, without Content-Encoding, unless the operation says otherwise.',
  },
  'headers-too-large': {
    status: 431,
    title: 'Headers too large',
    solution: 'Send fewer or shorter headers, or a shorter address.',
  },
  internal: {
    status: 500,
    title: 'The service failed',
    solution: 'Not your fault. Try again; if it stays, give the requestId to whoever runs the service.',
  },
  unavailable: {
    status: 503,
    title: 'The service cannot answer now',
    solution: 'Try again after the time in Retry-After.',
  },
} as const satisfies Record<string, { status: number; title: string; solution: string }>

export type RequestProblemCode = keyof typeof REQUEST_PROBLEMS

/** The HTTP status of every failure of the domain. */
export const DOMAIN_STATUS: Readonly<Record<ErrorCode, number>> = {
  'not-finite': 422,
  'out-of-range': 422,
  'too-few-readings': 422,
  'tire-size-not-understood': 422,
  'tire-size-ambiguous': 422,
  'tire-size-out-of-range': 422,
  'tire-size-not-tabulated': 422,
  'wear-beyond-tread': 422,
  'rule-needs-dial-max': 422,
  'rule-without-limits': 422,
  'rule-bounds-crossed': 422,
  'path-order': 422,
  'head-does-not-fit-path': 422,
  'nothing-to-find': 422,
  'search-too-large': 422,
  'aim-crossed': 422,
}
