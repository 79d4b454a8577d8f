/**
 * Every coded failure of the service: title and how to solve it. A code is the last part of a problem `type`,
 * is matched on by callers, and is never reused. The HTTP status of each code stands in `border/problem-codes.ts`.
 */
export const ERRORS = {
  'not-finite': {
    title: 'Not a finite number',
    solution: 'Give a finite number; infinities and not-a-number have no physical meaning here.',
  },
  'out-of-range': {
    title: 'Outside the range in which the formula holds',
    solution: 'Give a value inside the range named in the detail.',
  },
  'too-few-readings': {
    title: 'Too few readings',
    solution: 'Give at least as many readings as the detail names; more readings shrink the uncertainty.',
  },
  'tire-size-not-understood': {
    title: 'Tire size not understood',
    solution:
      'Write the size as on the sidewall, for example 195/70R14, 165R15, 5.60-15 or 31x10.50R15LT; or give a measured rollingCircumference.',
  },
  'tire-size-ambiguous': {
    title: 'Tire size can be read in more than one way',
    solution: 'Write the size in one of the forms that the detail names.',
  },
  'tire-size-without-rim': {
    title: 'Tire size of overall diameter and section width, without a rim',
    solution:
      'Give overallDiameter and construction in place of size, or the size with its rim where the sidewall names one.',
  },
  'tire-size-out-of-range': {
    title: 'Tire size outside any made',
    solution: 'Check the number that the detail names against the sidewall.',
  },
  'tire-size-not-tabulated': {
    title: 'Tire size whose diameter no rule gives',
    solution:
      'Measure the tire: give rollingCircumference from a roll-out, or overallDiameter; or store a tire-sizes row for it.',
  },
  'wear-beyond-tread': {
    title: 'More wear than any tread has',
    solution: 'Give wear as the loss of tread depth against new, not the depth that is left.',
  },
  'rule-needs-dial-max': {
    title: 'Rule that needs the last mark of the dial',
    solution: 'Give head.dialMax, the last mark of the dial: the rule is a share of full scale.',
  },
  'rule-without-limits': {
    title: 'Rule that sets no limits to judge by',
    solution: 'Choose a rule with bounds; GET /v1/gauges/rules lists them.',
  },
  'rule-bounds-crossed': {
    title: 'Lower bound above the upper bound',
    solution: 'Give custom.lower below custom.upper, and from below to.',
  },
  'path-order': {
    title: 'Stages in an order that cannot be built',
    solution:
      'Order the stages from wheel to dial: turning stages first, then at most one pulse ring, then pulse scalers.',
  },
  'path-repeated': {
    title: 'Path named twice',
    solution:
      'Give each path of the vehicle a name of its own: calibrations and firmware constants ask by it.',
  },
  'head-does-not-fit-path': {
    title: 'Head that does not take what the path carries',
    solution: 'A head that takes pulses needs a pulse ring in the path; one that takes turns needs none.',
  },
  'nothing-to-find': {
    title: 'No stage to be found',
    solution: 'Put find in place of the ratio of at least one stage, or use drive-paths/evaluation.',
  },
  'search-too-large': {
    title: 'More combinations than can be searched',
    solution: 'Narrow the field that the detail names: fewer wheels or ratios, or fewer open stages.',
  },
  'aim-crossed': {
    title: 'Aim whose least lies above its most',
    solution: 'Give aim.overReadPercent.min not above max.',
  },
  'wire-overloaded': {
    title: 'The wire never reaches a steady temperature',
    solution: 'Take a thicker wire or less current: at the current given the wire burns.',
  },
  'limits-crossed': {
    title: 'A lower limit lies above its upper limit',
    solution: 'Exchange the two, or correct the one that the detail names.',
  },
  'needs-another-field': {
    title: 'A field needs another that the request does not give',
    solution: 'Give the field that the detail names as well, or leave out what needs it.',
  },
  'fields-exclude-each-other': {
    title: 'Two fields exclude each other',
    solution: 'Leave out one of the two that the detail names: the service does not guess which was meant.',
  },
  'too-few-wheels': {
    title: 'Too few wheels for a pair',
    solution: 'List at least two wheels, one entry a wheel, or leave eachOnce out.',
  },
  'did-not-converge': {
    title: 'Computation that did not settle',
    solution: 'Look for a figure or an uncertainty that is wrong by powers of ten.',
  },
  'part-repeated': {
    title: 'Part named twice',
    solution: 'Give each part a name of its own, and name it once in a test.',
  },
  'part-unknown': {
    title: 'Test of a part that is not listed',
    solution: 'List every part under parts, and name it the same way in tests.',
  },
  'torque-not-informative': {
    title: 'Torque readings that say nothing',
    solution: 'Give at least one torque above zero, and uncertainties of the size of the readings or below.',
  },
  'link-repeated': {
    title: 'Link named twice',
    solution: 'Give each link of the chain a name of its own.',
  },
  'link-unknown': {
    title: 'Link that is not in the chain',
    solution: 'Name a link as the chain does: by its name, or by its kind where it has none.',
  },
  'priors-all-zero': {
    title: 'Every link ruled out by its prior',
    solution: 'Give at least one link a prior above zero, or leave priors out.',
  },
  'test-repeated': {
    title: 'Test given twice',
    solution: 'Give each test of tests once; repeat it in observations where it was done twice.',
  },
  'test-incomplete': {
    title: 'Own test without what it covers or takes',
    solution: 'Give detects and minutes with a test of your own, or use the id of a built-in test.',
  },
  'test-unknown': {
    title: 'Observation of a test that does not exist',
    solution:
      'Use the id of a test or symptom that the answer without observations lists, or give it under tests.',
  },
  'result-not-of-test': {
    title: 'Result of another sort than the test has',
    solution: 'A test fails or passes; a symptom is present or absent.',
  },
  'observations-contradict': {
    title: 'Observations that no single fault explains',
    solution:
      'Look for a wrong observation, a sensitivity of 1 or a false-alarm rate of 0 that is not true, or a link that the chain leaves out.',
  },
  'filter-empty': {
    title: 'Filter without a stage',
    solution: 'Give at least one of median, movingAverage, factor, or leave the filter out.',
  },
  'filter-factor-out-of-range': {
    title: 'Filter factor that is none',
    solution:
      'Give a factor above 0 and at most 1. For a time constant tau and a reading every T it is 1 - exp(-T/tau).',
  },
  'filter-limits-missing': {
    title: 'Nothing to design the filter for',
    solution: 'Give limits.noiseAfter, limits.lag or both, or a factor to be judged.',
  },
  'times-not-increasing': {
    title: 'Times do not increase',
    solution: 'Put the items in order of time; the detail names the first that is too early.',
  },
  'ring-errors-count': {
    title: 'Not one error for each gap of the ring',
    solution: 'Give as many errors as the ring has pulses in a turn, or give rms instead.',
  },
  'ring-gap-closed': {
    title: 'A gap of the ring would be closed',
    solution: 'Give smaller errors: those of one gap together must leave 2 % of the pitch.',
  },
  'simulation-too-long': {
    title: 'Simulation too long',
    solution:
      'Shorten the profile, or give fewer pulses per distance or a longer display period, until both counts are at most 2 million.',
  },
  'log-not-steady': {
    title: 'No steady stretch in the log',
    solution: 'Record at a steady speed above walking pace, for a minute or more, and leave stops out.',
  },
  'log-unit-ambiguous': {
    title: 'Unit of the log given twice',
    solution: 'Give unit for times, or the length of a count for counts of a timer; not both.',
  },
  'log-heading-differs': {
    title: 'Heading of a log that names another quantity or unit',
    solution:
      'Set holds, unit or tickUs as the detail says: they decide, and the name of the column does not.',
  },
  'csv-not-understood': {
    title: 'Table not understood',
    solution: 'Send CSV (RFC 4180): rows of one length, quotes closed, the delimiter that the request names.',
  },
  'csv-column-missing': {
    title: 'Table without that column',
    solution: 'Name a column of the first row, or give its number from 1.',
  },
  'csv-cell-not-a-number': {
    title: 'Cell of a table that is not a number',
    solution: 'Write numbers with a decimal point and nothing else in the cell; the detail names the row.',
  },
  'thread-not-understood': {
    title: 'Thread designation not understood',
    solution:
      'Write diameter and pitch, for example M18x1.5, or diameter and threads per inch, for example 7/8-18 or 3/8-26 BSF.',
  },
  'part-impossible': {
    title: 'No part can have these dimensions together',
    solution: 'Check the field that the detail names against the part.',
  },
  'years-crossed': {
    title: 'First year after the last',
    solution: 'Give yearFrom not after yearTo.',
  },
  'fit-with-itself': {
    title: 'Fit report of a part about itself',
    solution: 'Give the id of another part as otherPart.',
  },
  'recorded-part-unknown': {
    title: 'No part of this id',
    solution: 'Record the part first, or take the id from GET /v1/parts.',
  },
  'date-in-the-future': {
    title: 'Day that has not come yet',
    solution: 'Give the day on which it was found, or leave date out for today.',
  },
  'tire-size-built-in': {
    title: 'Tire size that the built-in table holds',
    solution:
      'Nothing to do: the built-in row is used. Where your tire differs, give its measured rollingCircumference.',
  },
  'construction-mismatch': {
    title: 'Construction that is not what the size says',
    solution: 'Give the construction that the detail names, or correct the size.',
  },
  'uncertainty-on-some-readings': {
    title: 'Uncertainty given with some readings only',
    solution: 'Give plusMinus with every reading or with none: one without it would count as exact.',
  },
  'readings-without-spread': {
    title: 'Readings that do not fix a line',
    solution: 'Give readings at two speeds or more, apart by more than their uncertainty.',
  },
  'reading-falls-with-speed': {
    title: 'Dial that shows less at a higher speed',
    solution: 'Check that indicated and true are not exchanged, and that all readings are of one dial.',
  },
  'tire-needed': {
    title: 'Stages without a tire',
    solution: 'Give tire as well: stages multiply the turns of a wheel.',
  },
  'integer-too-narrow': {
    title: 'Constant that does not fit the integers',
    solution: 'Take wider integers, coarser parts of a unit, or a longer timer tick.',
  },
  'timeout-beyond-counter': {
    title: 'Timeout longer than the counter runs',
    solution: 'Shorten the timeout, lengthen the tick by a prescaler, or count the overflows of the counter.',
  },
  'step-below-pulse': {
    title: 'Step of the record shorter than one pulse',
    solution: 'Give a longer step, or more pulses per distance.',
  },
  'top-speed-unresolved': {
    title: 'Timer too coarse for the top speed',
    solution: 'Give a shorter timer tick, or divide the pulses before they are timed.',
  },
  'time-not-understood': {
    title: 'Moment that is not in the calendar',
    solution: 'Write moments as 2026-05-01T12:00:00Z.',
  },
  'track-without-length': {
    title: 'Track that goes nowhere',
    solution: 'Give the points of a drive; two places at least must differ.',
  },
  'scale-points-not-advancing': {
    title: 'Points of a scale that do not advance',
    solution:
      'Give points whose angles move on with the speed in the direction of the sweep, apart by more than their uncertainties; leave out or measure again the one that the detail names.',
  },
  'scale-beyond-sweep': {
    title: 'Mark that the pointer cannot reach',
    solution: 'Give the lower max or higher from that the detail names, or a wider sweep.',
  },
  'scale-steps-do-not-nest': {
    title: 'Steps of a scale that do not go into one another',
    solution: 'Give number as a multiple of major, and major as a multiple of minor.',
  },
  'scale-marks-crowded': {
    title: 'Marks or numbers too close to be read',
    solution: 'Give the coarser steps that the detail names, or a larger radius.',
  },
} as const satisfies Record<string, { title: string; solution: string }>

export type ErrorCode = keyof typeof ERRORS

/** What varies in a message, for programs: the field as a JSON Pointer into the request, the bound, the value. */
export interface ErrorContext {
  pointer?: string
  in?: 'body' | 'query'
  [key: string]: unknown
}

/** The one way in which the domain says no. Match on `code`; `message` is for people. */
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
 * Runs a computation on one part of a request; a coded failure inside says where that part stands.
 *
 * @param pointer - JSON Pointer of the part, for example `/tire`; put before the pointer that the failure carries
 * @param part - Part of the request that the pointer is in
 */
export function at<T>(pointer: string, compute: () => T, part: 'body' | 'query' = 'body'): T {
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
