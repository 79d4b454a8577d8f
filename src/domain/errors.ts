/**
 * Every domain failure: its title and how to solve it. A code is the last part of a problem `type`. Callers match on it, so it is
 * never reused. `http/problem-codes.ts` holds the HTTP status of each code.
 */
export const ERRORS = {
  'not-finite': {
    title: 'Number not finite',
    solution: 'Give a finite number; infinities and not-a-number have no physical meaning here.',
  },
  'out-of-range': {
    title: 'Value out of range',
    solution: 'Give a value in the range that the detail names.',
  },
  'too-few-readings': {
    title: 'Too few readings',
    solution: 'Give at least as many readings as the detail names; more readings shrink the uncertainty.',
  },
  'tire-size-not-understood': {
    title: 'Tire size not recognized',
    solution:
      'Write the size as on the sidewall, for example 195/70R14, 165R15, 5.60-15 or 31x10.50R15LT; or give a measured rollingCircumference.',
  },
  'tire-size-ambiguous': {
    title: 'Ambiguous tire size',
    solution: 'Write the size in one of the forms that the detail names.',
  },
  'tire-size-without-rim': {
    title: 'Tire size without a rim diameter',
    solution:
      'Give overallDiameter and construction instead of size, or add the rim diameter to the size if the sidewall states one.',
  },
  'tire-size-out-of-range': {
    title: 'Tire size out of range',
    solution: 'Check the number that the detail names against the sidewall.',
  },
  'tire-size-not-tabulated': {
    title: 'Tire size without a known diameter',
    solution:
      'Measure the tire and give rollingCircumference (from a roll-out) or overallDiameter, or store a tire-sizes row for it.',
  },
  'wear-beyond-tread': {
    title: 'Wear greater than the tread depth',
    solution: 'Give wear as the tread depth lost since new, not the depth that remains.',
  },
  'rule-needs-dial-max': {
    title: 'Full-scale rule without the last mark of the dial',
    solution:
      'Give head.dialMax, the last mark of the dial: the limits of the rule are a percentage of full scale.',
  },
  'rule-without-limits': {
    title: 'Rule without accuracy limits',
    solution: 'Choose a rule that has limits; GET /v1/gauges/rules lists them.',
  },
  'rule-bounds-crossed': {
    title: 'Lower bound above the upper bound',
    solution: 'Give custom.lower below custom.upper, and from below to.',
  },
  'path-order': {
    title: 'Impossible order of stages',
    solution:
      'Order the stages from wheel to dial: rotating stages first, then at most one pulse ring, then pulse scalers.',
  },
  'path-repeated': {
    title: 'Duplicate path name',
    solution: 'Give each path of the vehicle its own name: calibrations and firmware constants refer to it.',
  },
  'head-does-not-fit-path': {
    title: 'Head and path of different kinds',
    solution:
      'A head that takes pulses needs a pulse ring in the path; a head that takes turns must have none.',
  },
  'no-open-stage': {
    title: 'No open stage',
    solution: 'Replace the ratio of at least one stage by find, or use POST /v1/drive-paths/evaluation.',
  },
  'search-too-large': {
    title: 'Too many combinations to search',
    solution: 'Narrow the field that the detail names: fewer gears or ratios, or fewer open stages.',
  },
  'aim-crossed': {
    title: 'Minimum of the aim above its maximum',
    solution: 'Give aim.overReadPercent.min at or below max.',
  },
  'wire-overloaded': {
    title: 'Wire overloaded',
    solution: 'Use a thicker wire or less current: at this current the wire temperature rises without limit.',
  },
  'limits-crossed': {
    title: 'Lower limit above the upper limit',
    solution: 'Swap the two limits, or correct the one that the detail names.',
  },
  'needs-another-field': {
    title: 'Required companion field missing',
    solution: 'Add the field that the detail names, or leave out the field that requires it.',
  },
  'no-pulse-path': {
    title: 'No such path that carries pulses',
    solution:
      'Name a path whose head takes pulses, or give one in the profile: a pulse-ring among its stages, and pulses as the input of its head.',
  },
  'fields-exclude-each-other': {
    title: 'Mutually exclusive fields',
    solution:
      'Leave out one of the two fields that the detail names: the service does not guess which one is meant.',
  },
  'too-few-wheels': {
    title: 'Too few gears for a pair',
    solution: 'List at least two gears, one entry per gear, or leave eachOnce out.',
  },
  'did-not-converge': {
    title: 'No convergence',
    solution: 'Look for a value or an uncertainty that is wrong by powers of ten.',
  },
  'part-repeated': {
    title: 'Duplicate part name',
    solution: 'Give each part its own name, and name it only once in a test.',
  },
  'part-unknown': {
    title: 'Unknown part in a test',
    solution: 'List every part under parts, and use the same name in tests.',
  },
  'torque-not-informative': {
    title: 'Torque readings without information',
    solution: 'Give at least one torque above zero, and uncertainties no larger than the readings.',
  },
  'link-repeated': {
    title: 'Duplicate link name',
    solution: 'Give each link of the chain its own name.',
  },
  'link-unknown': {
    title: 'Unknown link',
    solution: 'Refer to a link as the chain does: by its name, or by its kind if it has no name.',
  },
  'priors-all-zero': {
    title: 'All priors zero',
    solution: 'Give at least one link a prior above zero, or leave priors out.',
  },
  'test-repeated': {
    title: 'Duplicate test',
    solution: 'Define each test once under tests; if it was done twice, list it twice under observations.',
  },
  'test-incomplete': {
    title: 'Incomplete test definition',
    solution: 'Give covers and minutes for a test of your own, or use the id of a built-in test.',
  },
  'test-unknown': {
    title: 'Unknown test or symptom',
    solution:
      'Use the id of a test or symptom that the answer without observations lists, or define the test under tests.',
  },
  'result-test-mismatch': {
    title: 'Result of the wrong kind for the test',
    solution: 'Give fail or pass for a test, present or absent for a symptom.',
  },
  'observations-contradict': {
    title: 'Contradictory observations',
    solution:
      'No single fault explains all observations. Look for a wrong observation, a sensitivity of 1 or a false-alarm rate of 0 that is too good to be true, or a link missing from the chain.',
  },
  'filter-empty': {
    title: 'Empty filter',
    solution: 'Give at least one of median, movingAverage and factor, or leave the filter out.',
  },
  'filter-factor-out-of-range': {
    title: 'Filter factor out of range',
    solution:
      'Give a factor above 0 and at most 1. For a time constant tau and a sampling interval T the factor is 1 - exp(-T/tau).',
  },
  'filter-limits-missing': {
    title: 'No design limits for the filter',
    solution: 'Give limits.noiseAfter, limits.lag or both, or a factor to evaluate.',
  },
  'times-not-increasing': {
    title: 'Times not increasing',
    solution: 'Sort the items by time; the detail names the first one that is too early.',
  },
  'ring-errors-count': {
    title: 'Number of errors different from the number of gaps',
    solution: 'Give one error for each pulse per turn of the ring, or give rms instead.',
  },
  'ring-gap-closed': {
    title: 'Ring errors that close a gap',
    solution: 'Give smaller errors: at least 2 % of the pitch must remain of each gap.',
  },
  'simulation-too-long': {
    title: 'Simulation too long',
    solution:
      'Shorten the speed profile, or give fewer pulses per distance or a longer display period, until there are at most 2 million pulses and 2 million display updates.',
  },
  'log-not-steady': {
    title: 'No steady section in the log',
    solution: 'Record at a steady speed above walking pace for at least a minute, without stops.',
  },
  'log-unit-ambiguous': {
    title: 'Unit of the log given twice',
    solution: 'Give unit for times, or tick (tickUs in a query) for timer counts; not both.',
  },
  'log-heading-differs': {
    title: 'Column heading in conflict with the request',
    solution: 'Set content, unit or tickUs as the detail says: they decide, not the name of the column.',
  },
  'csv-not-understood': {
    title: 'Unreadable CSV table',
    solution:
      'Send CSV (RFC 4180): the same number of cells in each row, closed quotes, and the delimiter that the request names.',
  },
  'csv-column-missing': {
    title: 'Missing CSV column',
    solution: 'Name a column of the first row, or give the column number, counted from 1.',
  },
  'csv-cell-not-a-number': {
    title: 'CSV cell without a number',
    solution: 'Write a number with a decimal point and nothing else in the cell; the detail names the row.',
  },
  'thread-not-understood': {
    title: 'Thread designation not recognized',
    solution:
      'Write diameter and pitch, for example M18x1.5, or diameter and threads per inch, for example 7/8-18 or 3/8-26 BSF.',
  },
  'part-impossible': {
    title: 'Impossible combination of dimensions',
    solution: 'Measure the dimension that the detail names again.',
  },
  'years-crossed': {
    title: 'First year after the last year',
    solution: 'Give yearFrom at or before yearTo.',
  },
  'fit-with-itself': {
    title: 'Fit report of a part with itself',
    solution: 'Give the id of another part as otherPart.',
  },
  'recorded-part-unknown': {
    title: 'Unknown part id',
    solution: 'Record the part first, or use an id from GET /v1/parts.',
  },
  'date-in-the-future': {
    title: 'Future date',
    solution: 'Give the date on which the fit was found, or leave date out for today.',
  },
  'tire-size-built-in': {
    title: 'Tire size already in the built-in table',
    solution:
      'Nothing to do: the service uses the built-in row. If your tire differs, give its measured rollingCircumference.',
  },
  'construction-mismatch': {
    title: 'Construction in conflict with the size',
    solution: 'Give the construction that the detail names, or correct the size.',
  },
  'uncertainty-on-some-readings': {
    title: 'Uncertainty missing from some readings',
    solution: 'Give plusMinus with every reading or with none: a reading without it would count as exact.',
  },
  'readings-at-one-speed': {
    title: 'Readings at one speed only',
    solution: 'Give readings at two or more speeds that differ by more than their uncertainty.',
  },
  'reading-falls-with-speed': {
    title: 'Indicated speed falling with true speed',
    solution: 'Check that indicated and true are not swapped and that all readings come from one dial.',
  },
  'tire-needed': {
    title: 'Tire missing',
    solution: 'Give tire as well: the stages multiply the wheel turns per distance.',
  },
  'integer-too-narrow': {
    title: 'Integer overflow of a firmware constant',
    solution:
      'Give wider integers (integerBits), a coarser speed resolution (smaller speedParts), or a longer timer tick.',
  },
  'timeout-beyond-counter': {
    title: 'Timeout beyond the counter range',
    solution:
      'Give a shorter zeroTimeout, a longer timerTick (by a prescaler), or more counterBits (count the overflows of the counter).',
  },
  'step-below-pulse': {
    title: 'Distance step shorter than one pulse',
    solution: 'Give a longer step, or more pulses per distance.',
  },
  'top-speed-unresolved': {
    title: 'Timer too coarse for the top speed',
    solution: 'Give a shorter timer tick, or divide the pulses before the timer.',
  },
  'time-not-understood': {
    title: 'Invalid date or time',
    solution: 'Write the time as 2026-05-01T12:00:00Z.',
  },
  'track-without-length': {
    title: 'Track without length',
    solution: 'Give the points of a drive; at least two positions must differ.',
  },
  'scale-points-not-advancing': {
    title: 'Scale points not advancing',
    solution:
      'Give points whose angles advance with speed in the direction of the sweep by more than their uncertainties; measure the point that the detail names again, or leave it out.',
  },
  'scale-beyond-sweep': {
    title: 'Mark beyond the pointer sweep',
    solution: 'Give the lower max or higher from that the detail names, or a wider sweep.',
  },
  'scale-steps-do-not-nest': {
    title: 'Scale steps that are not multiples',
    solution: 'Give number as a multiple of major, and major as a multiple of minor.',
  },
  'scale-marks-crowded': {
    title: 'Marks or numbers too close to read',
    solution: 'Give the coarser steps that the detail names, or a larger radius.',
  },
} as const satisfies Record<string, { title: string; solution: string }>

export type ErrorCode = keyof typeof ERRORS

/** Machine-readable details of a failure: the field as a JSON Pointer into the request, the bound, the value. */
export interface ErrorContext {
  pointer?: string
  in?: 'body' | 'query'
  [key: string]: unknown
}

/** The only error that the domain throws for bad input. Match on `code`; `message` is for people. */
export class DomainError extends Error {
  readonly code: ErrorCode
  readonly context: ErrorContext

  constructor(code: ErrorCode, message: string, context: ErrorContext = {}, options?: ErrorOptions) {
    super(message, options)
    this.name = 'DomainError'
    this.code = code
    this.context = context
  }
}

/** Returns `value` when it is finite. @throws {DomainError} `not-finite`, naming the field */
export function finite(name: string, value: number): number {
  if (!Number.isFinite(value))
    throw new DomainError('not-finite', `${name}: expected a finite number, got ${value}`, { name, value })
  return value
}

/** Returns `value` when min <= value <= max. @throws {DomainError} `not-finite` or `out-of-range`, naming field, bounds and value */
export function within(
  name: string,
  value: number,
  min: number,
  max: number,
  context: ErrorContext = {},
): number {
  finite(name, value)
  if (value < min || value > max) {
    throw new DomainError('out-of-range', `${name}: expected ${min} to ${max}, got ${value}`, {
      ...context,
      name,
      min,
      max,
      value,
    })
  }
  return value
}

/**
 * Runs a computation on one part of a request, and prefixes the pointer of any `DomainError` with the pointer of that part.
 *
 * @param pointer - JSON Pointer of the part, for example `/tire`; put before the pointer of the error
 * @param part - Whether the pointer is into the body or the query
 */
export function withPointer<T>(pointer: string, compute: () => T, part: 'body' | 'query' = 'body'): T {
  try {
    return compute()
  } catch (error) {
    if (!(error instanceof DomainError)) throw error
    const inner = error.context.pointer ?? ''
    throw new DomainError(
      error.code,
      error.message,
      { ...error.context, pointer: pointer + inner, in: part },
      { cause: error },
    )
  }
}
