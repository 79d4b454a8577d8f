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
  'malformed-gpx': {
    status: 400,
    title: 'Body is not a GPX 1.1 track',
    solution:
      'Send a GPX 1.1 document in UTF-8, without a document type, with recorded tracks (trk, trkseg, trkpt).',
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
  'malformed-csv': {
    status: 400,
    title: 'Body is not a table of the columns asked for',
    solution:
      'Send text/csv (RFC 4180) in UTF-8: a first line of column names, commas between cells, quotes around cells with commas, quotes or line breaks. The detail names the columns.',
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
  'key-required': {
    status: 401,
    title: 'A key is needed',
    solution:
      'Send Authorization: Bearer and the key. Keys are made with npm run keys on the machine of the service.',
  },
  'key-not-valid': {
    status: 401,
    title: 'Key not valid',
    solution: 'Check the key for missing characters; ask whoever runs the service for a new one.',
  },
  'role-too-low': {
    status: 403,
    title: 'The key may not do this',
    solution:
      'A reader reads, an editor also writes, an admin also changes what others shared: use another key.',
  },
  'not-yours': {
    status: 403,
    title: 'Recorded by another account',
    solution:
      'Only the account that recorded a shared thing, or an admin, changes it; record your own instead.',
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
  'reference-taken': {
    status: 409,
    title: 'Another one has this reference',
    solution: 'Take another reference, or change the one that the detail names.',
  },
  'part-in-use': {
    status: 409,
    title: 'Fit reports speak of the part',
    solution: 'Withdraw the reports first: GET /v1/fits?part= lists them.',
  },
  'tire-size-taken': {
    status: 409,
    title: 'There is a row for this tire size already',
    solution: 'Change the row that the detail names.',
  },
  'request-in-flight': {
    status: 409,
    title: 'The first request with this Idempotency-Key is not answered yet',
    solution: 'Ask again after the time in Retry-After.',
  },
  'stale-version': {
    status: 412,
    title: 'Changed since it was read',
    solution: 'Read it again, make the change on what is there now, and send its ETag in If-Match.',
  },
  'body-too-large': {
    status: 413,
    title: 'Body too large',
    solution: 'Send less at once; the detail names the limit.',
  },
  'line-too-long': {
    status: 413,
    title: 'Line too long',
    solution:
      'Shorten what stands on the line; the detail names the limit. The other lines are not affected.',
  },
  'unsupported-media-type': {
    status: 415,
    title: 'Body in a form this address does not take',
    solution:
      'Send Content-Type: application/json in UTF-8, without Content-Encoding, unless the operation says otherwise.',
  },
  'idempotency-key-reused': {
    status: 422,
    title: 'Idempotency-Key of another request',
    solution: 'Take a new Idempotency-Key for each request; the same one only to repeat the same request.',
  },
  'reference-mismatch': {
    status: 422,
    title: 'Reference in the body is not that of the address',
    solution: 'Leave reference out of the body, or make both the same.',
  },
  'path-not-in-vehicle': {
    status: 422,
    title: 'The vehicle has no such path',
    solution: 'Give the name of one of the paths of the vehicle; the detail lists them.',
  },
  'no-accepted-calibration': {
    status: 422,
    title: 'No accepted calibration',
    solution: 'Record a calibration of the path with accepted: true, or accept a recorded one by PATCH.',
  },
  'calibration-outdated': {
    status: 422,
    title: 'The car has changed since the calibration',
    solution:
      'Calibrate again and record that. Where the car is as it was and only the profile was put right, record the same readings anew.',
  },
  'condition-required': {
    status: 428,
    title: 'If-Match is needed',
    solution:
      'Send the ETag of what was read in If-Match, so that no change of another is lost; * changes whatever is there.',
  },
  'table-not-stored': {
    status: 422,
    title: 'Rows of the table cannot be stored',
    solution:
      'Correct the cells that errors name by line and column, or send partial=true to store the others. Nothing was stored.',
  },
  'rate-limited': {
    status: 429,
    title: 'Too many requests',
    solution: 'Go on after the time in Retry-After; RateLimit says how many are left.',
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
  overloaded: {
    status: 503,
    title: 'More requests than can be answered',
    solution: 'Ask again after the time in Retry-After, and fewer at once. Nothing of the request was done.',
  },
  'not-ready': {
    status: 503,
    title: 'The service is not ready',
    solution: 'The detail names each check that failed; docs/operations.md says what to do.',
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
  'tire-size-without-rim': 422,
  'tire-size-out-of-range': 422,
  'tire-size-not-tabulated': 422,
  'wear-beyond-tread': 422,
  'rule-needs-dial-max': 422,
  'rule-without-limits': 422,
  'rule-bounds-crossed': 422,
  'path-order': 422,
  'path-repeated': 422,
  'head-does-not-fit-path': 422,
  'nothing-to-find': 422,
  'search-too-large': 422,
  'aim-crossed': 422,
  'wire-overloaded': 422,
  'limits-crossed': 422,
  'needs-another-field': 422,
  'fields-exclude-each-other': 422,
  'too-few-wheels': 422,
  'did-not-converge': 422,
  'part-repeated': 422,
  'part-unknown': 422,
  'torque-not-informative': 422,
  'link-repeated': 422,
  'link-unknown': 422,
  'priors-all-zero': 422,
  'test-repeated': 422,
  'test-incomplete': 422,
  'test-unknown': 422,
  'result-not-of-test': 422,
  'observations-contradict': 422,
  'filter-empty': 422,
  'filter-factor-out-of-range': 422,
  'filter-limits-missing': 422,
  'times-not-increasing': 422,
  'ring-errors-count': 422,
  'ring-gap-closed': 422,
  'simulation-too-long': 422,
  'log-not-steady': 422,
  'log-unit-ambiguous': 422,
  'log-heading-differs': 422,
  'csv-not-understood': 422,
  'csv-column-missing': 422,
  'csv-cell-not-a-number': 422,
  'thread-not-understood': 422,
  'part-impossible': 422,
  'years-crossed': 422,
  'fit-with-itself': 422,
  'recorded-part-unknown': 422,
  'date-in-the-future': 422,
  'tire-size-built-in': 422,
  'construction-mismatch': 422,
  'uncertainty-on-some-readings': 422,
  'readings-without-spread': 422,
  'reading-falls-with-speed': 422,
  'tire-needed': 422,
  'integer-too-narrow': 422,
  'timeout-beyond-counter': 422,
  'step-below-pulse': 422,
  'top-speed-unresolved': 422,
  'time-not-understood': 422,
  'track-without-length': 422,
  'scale-points-not-advancing': 422,
  'scale-beyond-sweep': 422,
  'scale-steps-do-not-nest': 422,
  'scale-marks-crowded': 422,
}
