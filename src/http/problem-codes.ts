import type { ErrorCode } from '../domain/errors.js'

/** Failures outside the domain: of the request, of access, of the service itself. */
export const REQUEST_PROBLEMS = {
  'invalid-request': {
    status: 400,
    title: 'Request does not match its schema',
    solution: 'Each item of errors names a field by JSON Pointer and says what to give instead.',
  },
  'malformed-json': {
    status: 400,
    title: 'Body not JSON',
    solution:
      'Send JSON text (RFC 8259) in UTF-8, with a closing bracket for each opening one and no trailing comma.',
  },
  'malformed-gpx': {
    status: 400,
    title: 'Body not a GPX 1.1 track',
    solution:
      'Send a GPX 1.1 document in UTF-8, without a document type, with recorded tracks (trk, trkseg, trkpt).',
  },
  'duplicate-key': {
    status: 400,
    title: 'Duplicate key in a JSON object',
    solution: 'Keep one of the two: the service does not guess which one is meant.',
  },
  'nested-too-deep': {
    status: 400,
    title: 'Body nested too deeply',
    solution: 'No request needs more than 64 levels of brackets.',
  },
  'malformed-csv': {
    status: 400,
    title: 'Body not a CSV table with the expected columns',
    solution:
      'Send text/csv (RFC 4180) in UTF-8: a first line of column names, commas between cells, quotes around cells with commas, quotes or line breaks. The detail names the columns.',
  },
  'malformed-url': {
    status: 400,
    title: 'Undecodable URL',
    solution: 'Percent-encode the URL in UTF-8; write a literal % as %25.',
  },
  'malformed-http': {
    status: 400,
    title: 'Not an HTTP request',
    solution: 'Use an HTTP/1.1 client.',
  },
  'key-required': {
    status: 401,
    title: 'API key required',
    solution:
      'Send Authorization: Bearer and the key. Keys are made on the machine of the service: wheel-to-dial keys, in a clone npm run keys.',
  },
  'key-not-valid': {
    status: 401,
    title: 'API key not valid',
    solution: 'Check the key for missing characters; ask whoever runs the service for a new one.',
  },
  'insufficient-role': {
    status: 403,
    title: 'Insufficient role',
    solution:
      'A reader may read, an editor may also write, an admin may also change what others recorded: use a key with the role needed.',
  },
  'not-owner': {
    status: 403,
    title: 'Recorded by another account',
    solution: 'Only the account that recorded it, or an admin, may change it; record your own instead.',
  },
  'not-found': {
    status: 404,
    title: 'Not found',
    solution:
      'Check the id: an item that was deleted or belongs to another account is not found either. Check the path: /openapi.json lists all of them.',
  },
  'method-not-allowed': {
    status: 405,
    title: 'Method not allowed',
    solution: 'Use one of the methods in the Allow header.',
  },
  'not-acceptable': {
    status: 406,
    title: 'No acceptable media type',
    solution: 'Ask for one of the media types that the detail names, or leave Accept out.',
  },
  'request-timeout': {
    status: 408,
    title: 'Request timeout',
    solution: 'Send the whole request without long pauses.',
  },
  'reference-taken': {
    status: 409,
    title: 'Reference already in use',
    solution: 'Choose another reference, or change the record that the detail names.',
  },
  'part-in-use': {
    status: 409,
    title: 'Part referenced by fit reports',
    solution: 'Withdraw the fit reports first: GET /v1/fits?part= lists them.',
  },
  'tire-size-taken': {
    status: 409,
    title: 'Tire size already stored',
    solution: 'Change the row that the detail names.',
  },
  'request-in-flight': {
    status: 409,
    title: 'First request with this Idempotency-Key still in progress',
    solution: 'Try again after the time in Retry-After.',
  },
  'stale-version': {
    status: 412,
    title: 'Another version stored',
    solution:
      'Read it again, apply the change to the current version, and send its ETag in If-Match. With If-None-Match: *, the item exists already.',
  },
  'body-too-large': {
    status: 413,
    title: 'Body too large',
    solution: 'Send less in one request; the detail names the limit.',
  },
  'line-too-long': {
    status: 413,
    title: 'Line too long',
    solution: 'Shorten the line; the detail names the limit. The other lines are not affected.',
  },
  'unsupported-media-type': {
    status: 415,
    title: 'Unsupported media type',
    solution:
      'Send Content-Type: application/json in UTF-8, without Content-Encoding, unless the operation says otherwise.',
  },
  'idempotency-key-reused': {
    status: 422,
    title: 'Idempotency-Key already used for another request',
    solution: 'Use a new Idempotency-Key for each request, and the same key only to repeat the same request.',
  },
  'reference-mismatch': {
    status: 422,
    title: 'Reference in the body different from the URL',
    solution: 'Leave reference out of the body, or make both the same.',
  },
  'path-not-in-vehicle': {
    status: 422,
    title: 'Unknown path of the vehicle',
    solution: 'Give the name of one of the vehicle paths; the detail lists them.',
  },
  'no-accepted-calibration': {
    status: 422,
    title: 'No accepted calibration',
    solution: 'Record a calibration of the path with accepted: true, or accept a recorded one by PATCH.',
  },
  'calibration-outdated': {
    status: 422,
    title: 'Calibration outdated by a change of the vehicle',
    solution:
      'Calibrate again and record the new calibration. If the vehicle is unchanged and only the profile was corrected, record the same readings again.',
  },
  'condition-required': {
    status: 428,
    title: 'If-Match required',
    solution:
      "Send the ETag of the version that you read in If-Match, so that nobody else's change is lost; * changes any version.",
  },
  'table-not-stored': {
    status: 422,
    title: 'Invalid rows in the table',
    solution:
      'Correct the cells that errors names by line and column, or send partial=true to store the valid rows. Nothing was stored.',
  },
  'rate-limited': {
    status: 429,
    title: 'Too many requests',
    solution: 'Continue after the time in Retry-After; RateLimit says how many requests are left.',
  },
  'headers-too-large': {
    status: 431,
    title: 'Request headers too large',
    solution: 'Send fewer or shorter headers, or a shorter URL.',
  },
  internal: {
    status: 500,
    title: 'Internal error',
    solution:
      'The request is not at fault. Try again; if the error persists, give the requestId to whoever runs the service.',
  },
  overloaded: {
    status: 503,
    title: 'Service overloaded',
    solution:
      'Try again after the time in Retry-After, with fewer requests at once. Nothing was done for this request.',
  },
  'not-ready': {
    status: 503,
    title: 'Service not ready',
    solution: 'The detail names each check that failed; docs/operations.md says what to do.',
  },
  unavailable: {
    status: 503,
    title: 'Service unavailable',
    solution: 'Try again after the time in Retry-After.',
  },
} as const satisfies Record<string, { status: number; title: string; solution: string }>

export type RequestProblemCode = keyof typeof REQUEST_PROBLEMS

/** HTTP status of every domain failure. */
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
  'no-open-stage': 422,
  'search-too-large': 422,
  'aim-crossed': 422,
  'wire-overloaded': 422,
  'limits-crossed': 422,
  'needs-another-field': 422,
  'no-pulse-path': 422,
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
  'result-test-mismatch': 422,
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
  'readings-at-one-speed': 422,
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
