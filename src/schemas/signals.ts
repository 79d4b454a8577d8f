import { type Static, Type } from '@sinclair/typebox'
import { calculationAnswer, Series } from './answers.js'
import { Filter } from './filters.js'
import {
  choice,
  count,
  Distance,
  FrequencyIn,
  measureIn,
  named,
  PerDistanceIn,
  plain,
  plainOut,
  ref,
  SetPerDistanceIn,
  SetSpeedIn,
  SetTimeIn,
  Speed,
  SpeedIn,
  Time,
  TimeIn,
} from './measures.js'
import { lineText } from './texts.js'

export const SpeedNoiseIn = measureIn('SpeedNoiseIn', 'speed', {
  min: 1e-6,
  max: 100,
  description: 'Noise of a speed reading, rms.',
})

const pulsesPerTurn = () =>
  count({ minimum: 1, maximum: 1000, description: 'Pulses that the ring gives in one turn.' })

const Sampling = named(
  'Sampling',
  Type.Union(
    [
      Type.Object(
        { frequency: ref(FrequencyIn, 'Readings per second.') },
        { additionalProperties: false, title: 'readings at a fixed rate' },
      ),
      Type.Object(
        {
          pulses: ref(PerDistanceIn, 'Pulses per distance; one reading is taken at each.'),
          speed: ref(
            SpeedIn,
            'Speed at which noise was measured, and that the recommended factor is given for.',
          ),
          noiseGrowth: Type.Optional(
            choice(['none', 'with-speed', 'with-speed-squared'], {
              description:
                'How the noise grows from the speed given to the other speeds: not at all if left out; with-speed for tooth errors (a fixed share of a period), with-speed-squared for time errors of the edges and the timer.',
            }),
          ),
        },
        { additionalProperties: false, title: 'readings once a pulse' },
      ),
    ],
    { description: 'When readings come: give frequency, or pulses and speed.' },
  ),
)

export const FilterDesignRequest = named(
  'FilterDesignRequest',
  Type.Object(
    {
      sampling: ref(Sampling, 'When readings come: at a fixed rate, or once a pulse.'),
      noise: ref(SpeedNoiseIn, 'Noise of one reading before the filter, rms.'),
      limits: Type.Optional(
        Type.Object(
          {
            noiseAfter: Type.Optional(
              ref(SpeedNoiseIn, 'Largest noise wanted after the filter, rms; left out: no limit.'),
            ),
            lag: Type.Optional(
              ref(SetTimeIn, 'Longest lag wanted on a steady ramp of speed; left out: no limit.'),
            ),
          },
          {
            additionalProperties: false,
            description: 'Most noise wanted after the filter (rms) and longest lag on a steady ramp.',
          },
        ),
      ),
      pulsesPerTurn: Type.Optional(pulsesPerTurn()),
      factor: Type.Optional(
        plain({
          minimum: 0,
          maximum: 1000,
          description: 'A factor to be judged in place of a recommended one; above 0 and at most 1.',
        }),
      ),
      speeds: Type.Optional(
        Type.Array(ref(SetSpeedIn), {
          maxItems: 100,
          description: 'Speeds at which the limits hold as well.',
        }),
      ),
    },
    {
      additionalProperties: false,
      examples: [
        {
          sampling: { pulses: { perKm: 4000 }, speed: { kmh: 50 }, noiseGrowth: 'with-speed' },
          noise: { kmh: 1, plusMinus: 0.2 },
          limits: { noiseAfter: { kmh: 0.4 }, lag: { ms: 400 } },
          pulsesPerTurn: 8,
          speeds: [{ kmh: 10 }, { kmh: 50 }, { kmh: 100 }],
        },
        { sampling: { frequency: { hz: 10 } }, noise: { kmh: 1 }, limits: { noiseAfter: { kmh: 0.316 } } },
        { sampling: { frequency: { hz: 10 } }, noise: { mph: 1 }, factor: 0.181269247 },
      ],
    },
  ),
)

const FactorRange = named(
  'FactorRange',
  Type.Object(
    {
      min: plainOut(
        'Smallest factor that keeps the lag limit; 1e-9, the smallest that is taken, without one.',
      ),
      max: plainOut('Largest factor that keeps the noise limit; 1 without one.'),
      minPlusMinus: plainOut('Uncertainty of min, 95 %.'),
      maxPlusMinus: plainOut('Uncertainty of max, 95 %.'),
    },
    { additionalProperties: false, description: 'Smoothing factors that meet the limits.' },
  ),
)

const effect = {
  noiseAfter: ref(Speed, 'Noise after the filter, rms.'),
  rampLag: ref(Time, 'Lag behind a steady ramp of speed.'),
  settling95: ref(Time, 'Time until 95 % of a sudden change is shown.'),
  settling95Readings: count({
    minimum: 1,
    maximum: Number.MAX_SAFE_INTEGER,
    description: 'Readings until 95 % of a sudden change is shown.',
  }),
  meets: Type.Boolean({ description: 'Whether the limits that were given hold, at every speed given.' }),
}

export const FilterDesignAnswer = calculationAnswer(
  'FilterDesignAnswer',
  'A smoothing factor, the range that it may be taken from, and what else would do.',
  {
    feasible: Type.Boolean({ description: 'Whether any factor meets the limits at every speed.' }),
    factor: Type.Optional(
      ref(FactorRange, 'Factors that meet the limits at every speed; absent when none does.'),
    ),
    recommended: Type.Object(
      {
        factor: plainOut('The factor a of y += a (x - y).'),
        basis: choice(['given', 'within-range', 'compromise'], {
          description:
            'given: the factor of the request; within-range: meets every limit; compromise: none does.',
        }),
        timeConstant: ref(Time, 'Time constant of the recommended factor.'),
        shift: Type.Optional(
          count({
            minimum: 0,
            maximum: 24,
            description: 'Nearest power of two for integer firmware: y += (x - y) / 2^shift.',
          }),
        ),
        shiftFactor: Type.Optional(plainOut('The factor of that shift, 1/2^shift.')),
        shiftMeets: Type.Optional(Type.Boolean({ description: 'Whether that factor meets the limits.' })),
        ...effect,
      },
      {
        additionalProperties: false,
        description: 'The factor to use, at the speed of the sampling.',
      },
    ),
    relax: Type.Array(
      Type.Object(
        {
          limit: choice(['lag', 'noise-after', 'from-speed'], {
            description: 'The limit that gives way; from-speed: both hold from that speed on.',
          }),
          neededLag: Type.Optional(ref(Time, 'Lag that must be accepted; only with limit lag.')),
          neededNoiseAfter: Type.Optional(
            ref(Speed, 'Noise that must be accepted; only with limit noise-after.'),
          ),
          neededSpeed: Type.Optional(
            ref(Speed, 'Speed from which both limits can be met; only with limit from-speed.'),
          ),
          factor: plainOut('The factor that this admits.'),
        },
        { additionalProperties: false },
      ),
      {
        maxItems: 3,
        description: 'When nothing fits: each way out by itself, and how far it has to go.',
      },
    ),
    alternatives: Type.Array(
      Type.Object(
        {
          kind: choice(
            [
              'exponential',
              'exponential-by-shift',
              'moving-average',
              'median',
              'median-and-exponential',
              'moving-average-and-exponential',
              'median-moving-average-and-exponential',
            ],
            { description: 'What the filter consists of.' },
          ),
          filter: ref(Filter, 'The filter.'),
          badReadingsIgnored: count({
            minimum: 0,
            maximum: 2,
            description: 'Bad readings in a row that leave no trace.',
          }),
          freeOfRingErrors: Type.Optional(
            Type.Boolean({
              description: 'Whether errors that repeat with the ring vanish from the reading.',
            }),
          ),
          oncePerTurnGain: Type.Optional(
            plainOut('Share of a once-per-turn wave (an eccentric ring) that is left.'),
          ),
          ...effect,
        },
        { additionalProperties: false },
      ),
      { maxItems: 10, description: 'Other filters for the same readings, compared.' },
    ),
    speeds: Type.Array(
      Type.Object(
        {
          speed: ref(Speed, 'The speed.'),
          interval: ref(Time, 'Time between two readings there.'),
          noise: ref(Speed, 'Noise of one reading there, before the filter, rms.'),
          factor: Type.Optional(
            ref(FactorRange, 'Factors that meet the limits at this speed alone; absent when none does.'),
          ),
          timeConstant: ref(Time, 'Time constant of the recommended factor at this speed.'),
          lagDistance: ref(Distance, 'Distance covered during the lag.'),
          ...effect,
        },
        { additionalProperties: false },
      ),
      {
        maxItems: 100,
        description: 'The recommended factor at each speed; factor: the range of that speed alone.',
      },
    ),
  },
)

export type FilterDesignRequestShape = Static<typeof FilterDesignRequest>
export type FilterDesignAnswerShape = Static<typeof FilterDesignAnswer>

const ElapsedIn = measureIn('ElapsedIn', 'time', {
  min: 0,
  max: 1e6,
  description: 'Time since the start.',
  uncertainty: false,
})

const TravelSpeedIn = measureIn('TravelSpeedIn', 'speed', {
  min: 0,
  max: 280,
  description: 'A speed, or standstill.',
  uncertainty: false,
})

const share = (description: string, minimum = -0.9) => plain({ minimum, maximum: 0.9, description })

export const SimulationRequest = named(
  'SimulationRequest',
  Type.Object(
    {
      pulses: ref(SetPerDistanceIn, 'Pulses per distance.'),
      ring: Type.Optional(
        Type.Object(
          {
            pulsesPerTurn: pulsesPerTurn(),
            errors: Type.Optional(
              Type.Array(share('Error of one gap: (gap - pitch) / pitch; 0.0125 is 1.25 %.'), {
                minItems: 1,
                maxItems: 1000,
                description:
                  'Error of each gap in order of passing, as a share of the pitch; centered on its mean.',
              }),
            ),
            rms: Type.Optional(
              plain({
                minimum: 0,
                maximum: 0.5,
                description: 'Spread of random gap errors, as a share of the pitch.',
              }),
            ),
            eccentricity: Type.Optional(share('Offset of the center over the pitch radius.', 0)),
            joint: Type.Optional(
              share(
                'Ring cut in halves: extra width of the gaps at its two joints, as a share of the pitch.',
              ),
            ),
          },
          {
            additionalProperties: false,
            description: 'The pulse ring; left out: one pulse a turn, without error. What is given adds up.',
          },
        ),
      ),
      profile: Type.Array(
        Type.Object(
          {
            t: ref(ElapsedIn, 'Time since the start, not before that of the previous point.'),
            speed: ref(TravelSpeedIn, 'True speed at that time; 0 at standstill.'),
          },
          { additionalProperties: false },
        ),
        {
          minItems: 2,
          maxItems: 1000,
          description:
            'True speed: straight lines between the points; two points at one time are a sudden change.',
        },
      ),
      missed: Type.Optional(
        plain({ minimum: 0, maximum: 0.5, description: 'Probability that a pulse is missed.' }),
      ),
      extra: Type.Optional(
        plain({ minimum: 0, maximum: 0.5, description: 'Probability of an extra pulse before a pulse.' }),
      ),
      edgeJitter: Type.Optional(ref(SetTimeIn, 'Standard deviation of the time of an edge; left out: none.')),
      timerTick: Type.Optional(
        ref(SetTimeIn, 'Time of one timer tick; left out: time is measured without steps.'),
      ),
      timerBits: Type.Optional(
        count({
          minimum: 8,
          maximum: 64,
          description: 'Width of the counter [bits]; left out: it never wraps.',
        }),
      ),
      filter: Type.Optional(ref(Filter, 'Filter of the readings; left out: none.')),
      filterOn: Type.Optional(
        choice(['speed', 'period'], {
          default: 'speed',
          description:
            'What is filtered: the speed of each period, or the period before it is inverted (no bias from noise, but slower downwards than upwards).',
        }),
      ),
      zeroTimeout: Type.Optional(
        ref(SetTimeIn, 'Time without a pulse after which zero is shown; left out: never.'),
      ),
      whileSilent: Type.Optional(
        choice(['hold', 'bound'], {
          default: 'hold',
          description:
            'What is shown until the timeout when no pulse comes: the last value, or the smaller of it and the speed that the silence still admits.',
        }),
      ),
      display: Type.Optional(
        Type.Object(
          { every: ref(SetTimeIn, 'Time between two updates of the display.') },
          {
            additionalProperties: false,
            description: 'How often the display changes; left out: every 100 ms.',
          },
        ),
      ),
      seed: Type.Optional(
        count({
          minimum: 0,
          maximum: 4_294_967_295,
          default: 1,
          description: 'Start of the noise: the same number, the same noise.',
        }),
      ),
      seriesPoints: Type.Optional(
        count({ minimum: 2, maximum: 2000, default: 500, description: 'Most points of each series.' }),
      ),
    },
    {
      additionalProperties: false,
      examples: [
        {
          pulses: { perKm: 4000 },
          ring: { pulsesPerTurn: 8, rms: 0.02, eccentricity: 0.01 },
          profile: [
            { t: { s: 0 }, speed: { kmh: 0 } },
            { t: { s: 10 }, speed: { kmh: 80 } },
            { t: { s: 30 }, speed: { kmh: 80 } },
            { t: { s: 36 }, speed: { kmh: 0 } },
            { t: { s: 40 }, speed: { kmh: 0 } },
          ],
          missed: 0.001,
          timerTick: { us: 4 },
          timerBits: 32,
          filter: { median: 3, factor: 0.25 },
          zeroTimeout: { ms: 450 },
          whileSilent: 'bound',
          display: { every: { ms: 200 } },
          seed: 7,
          seriesPoints: 100,
        },
        {
          pulses: { perMile: 8000 },
          ring: { pulsesPerTurn: 4, errors: [0.03, -0.01, -0.04, 0.02] },
          profile: [
            { t: { s: 0 }, speed: { mph: 30 } },
            { t: { s: 20 }, speed: { mph: 30 } },
            { t: { s: 20 }, speed: { mph: 60 } },
            { t: { s: 40 }, speed: { mph: 60 } },
          ],
          filter: { movingAverage: 4 },
          filterOn: 'period',
          seriesPoints: 40,
        },
      ],
    },
  ),
)

const eventCount = (description: string) =>
  count({ minimum: 0, maximum: Number.MAX_SAFE_INTEGER, description })

export const SimulationAnswer = calculationAnswer(
  'SimulationAnswer',
  'What the display shows of the drive, against the true speed; what the drive does not let one tell is absent.',
  {
    pulses: eventCount('Pulses that reached the timer.'),
    missedPulses: eventCount('Pulses of the ring that were missed.'),
    extraPulses: eventCount('Pulses that were no pulse of the ring.'),
    displayUpdates: eventCount('Updates of the display.'),
    pulsesInOneTick: eventCount('Pulses within one count of the timer after another: no reading.'),
    rmsError: ref(Speed, 'Shown less true speed, rms over the drive.'),
    peakError: ref(Speed, 'Largest difference of shown and true speed, with its sign.'),
    peakErrorAt: ref(Time, 'Time of the largest difference.'),
    lag: Type.Optional(ref(Time, 'Time by which the display lags on ramps of speed; absent without a ramp.')),
    settling95: Type.Optional(
      ref(
        Time,
        'Time from the end of the largest change of speed until 95 % of it are shown; absent without one, or when it is not reached.',
      ),
    ),
    timeToZero: Type.Optional(
      ref(
        Time,
        'Longest time from standstill until zero is shown; absent without a standstill, or when zero is not shown.',
      ),
    ),
    steadySpread: Type.Optional(
      ref(
        Speed,
        'Spread of what is shown at constant speed once settled, rms about its mean; absent without such a stretch.',
      ),
    ),
    steadyBias: Type.Optional(
      ref(
        Speed,
        'Mean of shown less true speed at constant speed once settled; absent without such a stretch.',
      ),
    ),
    series: Type.Array(ref(Series), {
      maxItems: 2,
      description: 'true and shown speed [km/h] over time [s]; of many updates the extremes are kept.',
    }),
  },
)

export type SimulationRequestShape = Static<typeof SimulationRequest>
export type SimulationAnswerShape = Static<typeof SimulationAnswer>

const logSettings = {
  pulsesPerTurn: pulsesPerTurn(),
  pulses: Type.Optional(
    ref(PerDistanceIn, 'Pulses per distance, for a series of speed; left out: the series shows frequency.'),
  ),
  unit: Type.Optional(
    choice(['s', 'ms', 'us'], { description: 'Unit of the values; s if left out. Not together with tick.' }),
  ),
  tick: Type.Optional(
    ref(
      TimeIn,
      'Time of one count, when the values are counts of a timer; not beside unit. Left out: the values are times in unit.',
    ),
  ),
  seriesPoints: Type.Optional(
    count({ minimum: 2, maximum: 2000, description: 'Most points of the series; 500 if left out.' }),
  ),
}

/** Pulses of a log: half an hour at 500 a second. Analyzing one takes some hundred bytes of memory a pulse. */
export const MAX_LOGGED = 1_000_000

const logged = (description: string) =>
  Type.Array(plain({ minimum: -1e15, maximum: 1e15, description: 'In unit, or in counts of tick.' }), {
    minItems: 1,
    maxItems: MAX_LOGGED,
    description,
  })

/** A log of the examples: a ring of four with gaps 2, -1, 3 and -4 % off, a missed and an extra pulse, in microseconds. */
const EXAMPLE_PERIODS = Array.from({ length: 96 }, (_, i) => [2550, 2475, 2575, 2400][i % 4]! + (i % 3) - 1)
const EXAMPLE_FAULTY = [
  ...EXAMPLE_PERIODS.slice(0, 40),
  EXAMPLE_PERIODS[40]! + EXAMPLE_PERIODS[41]!,
  ...EXAMPLE_PERIODS.slice(42, 70),
  800,
  EXAMPLE_PERIODS[70]! - 800,
  ...EXAMPLE_PERIODS.slice(71),
]

export const LogAnalysisRequest = named(
  'LogAnalysisRequest',
  Type.Union(
    [
      Type.Object(
        {
          periods: logged('Time from each pulse to the next, in order.'),
          ...logSettings,
        },
        { additionalProperties: false, title: 'a log of periods' },
      ),
      Type.Object(
        {
          times: logged('Reading of the clock at each pulse, in order; a counter that wraps is followed.'),
          ...logSettings,
        },
        { additionalProperties: false, title: 'a log of times' },
      ),
    ],
    {
      description: 'A recorded log: give periods or times.',
      examples: [
        { periods: EXAMPLE_FAULTY, unit: 'us', pulsesPerTurn: 4, pulses: { perKm: 8000 }, seriesPoints: 20 },
        {
          times: Array.from({ length: 60 }, (_, i) => (65_000 + i * 625 + (i % 5)) % 65_536),
          tick: { us: 4 },
          pulsesPerTurn: 6,
          seriesPoints: 10,
        },
      ],
    },
  ),
)

export const LogAnalysisQuery = Type.Object(
  {
    column: Type.Optional(
      lineText(
        100,
        'text/csv: column of the values, by its name in the first row or by its number from 1; 1 if left out.',
      ),
    ),
    holds: Type.Optional(
      choice(['periods', 'times'], {
        description:
          'text/csv: what the column holds; times if left out, unless its heading names periods: then it must be said.',
      }),
    ),
    delimiter: Type.Optional(
      choice(['comma', 'semicolon', 'tab'], {
        description: 'text/csv: what stands between columns; comma if left out.',
      }),
    ),
    unit: Type.Optional(
      choice(['s', 'ms', 'us'], {
        description:
          'text/csv: unit of the values; s if left out, unless the heading of the column names another: then it must be said.',
      }),
    ),
    tickUs: Type.Optional(
      Type.Number({
        minimum: 0.01,
        maximum: 1e6,
        description: 'text/csv: length of a count when the values are counts of a timer [microsecond].',
        'x-unit': 'us',
      }),
    ),
    pulsesPerTurn: Type.Optional(
      count({
        minimum: 1,
        maximum: 1000,
        description: 'text/csv: pulses that the ring gives in one turn; required.',
      }),
    ),
    pulsesPerKm: Type.Optional(
      Type.Number({
        minimum: 1,
        maximum: 1e7,
        description: 'text/csv: pulses per kilometer, for the speed series.',
        'x-unit': '/km',
      }),
    ),
    seriesPoints: Type.Optional(
      count({
        minimum: 2,
        maximum: 2000,
        description: 'text/csv: most points of the series; 500 if left out.',
      }),
    ),
  },
  { additionalProperties: false },
)

const gapOfRing = () => count({ minimum: 0, maximum: 999, description: 'Gap of the ring, from 0.' })
const itemIndex = (description: string) => count({ minimum: 0, maximum: MAX_LOGGED, description })

/** Most places of missed or of extra pulses that an answer lists. */
export const MAX_PLACES = 100_000

export const LogAnalysisAnswer = calculationAnswer(
  'LogAnalysisAnswer',
  'What a log tells about ring, signal and timer; what it does not let one tell is absent.',
  {
    pulses: eventCount('Pulses recorded.'),
    duration: ref(Time, 'Time from the first pulse to the last.'),
    resolution: Type.Optional(ref(Time, 'Step of the values; absent when they are finer than can be told.')),
    wrap: Type.Optional(
      ref(Time, 'Span after which the counter starts again; absent when it does not wrap.'),
    ),
    wraps: eventCount('Times that the counter wrapped.'),
    runs: Type.Array(
      Type.Object(
        {
          firstIndex: itemIndex('First item.'),
          lastIndex: itemIndex('Last item.'),
          phase: count({
            minimum: 0,
            maximum: 999,
            description: 'Gap of the ring that follows its first pulse.',
          }),
        },
        { additionalProperties: false },
      ),
      { maxItems: 1000, description: 'Steady stretches, in which the ring was counted.' },
    ),
    unsteadyPulses: eventCount('Pulses outside them: at a stop, or at walking pace.'),
    missedTotal: eventCount('Pulses of the ring that the log misses.'),
    missed: Type.Array(
      Type.Object(
        {
          index: itemIndex(
            'Item of the log at which a pulse came late: the period, or the time, after the hole.',
          ),
          count: count({ minimum: 1, maximum: 100, description: 'Pulses missed there.' }),
          gap: gapOfRing(),
        },
        { additionalProperties: false },
      ),
      { maxItems: MAX_PLACES, description: 'Where pulses were missed.' },
    ),
    extraTotal: eventCount('Pulses that were none of the ring.'),
    extra: Type.Array(
      Type.Object(
        { index: itemIndex('Item of the log that ends with the pulse too many.'), gap: gapOfRing() },
        { additionalProperties: false },
      ),
      { maxItems: MAX_PLACES, description: 'Where a pulse was one too many.' },
    ),
    ring: Type.Optional(
      Type.Object(
        {
          significant: Type.Boolean({
            description:
              'Whether the errors are more than chance (three in a thousand) and the steps of the timer.',
          }),
          rms: plainOut('Gap errors, rms, as a share of the pitch.'),
          eccentricity: plainOut('Once-per-turn wave, as an offset of the center over the pitch radius.'),
          widestGap: gapOfRing(),
          oncePerTurnShare: plainOut(
            'Share of the variance of the gap errors that this wave makes up, 0 to 1.',
          ),
          gaps: Type.Array(
            Type.Object(
              {
                error: plainOut('(gap - pitch) / pitch.'),
                plusMinus: plainOut('Uncertainty of the error, 95 %.'),
                passes: eventCount('Turns in which it was seen.'),
                missed: eventCount('Pulses missed in it.'),
                extra: eventCount('Pulses too many in it.'),
              },
              { additionalProperties: false },
            ),
            {
              maxItems: 1000,
              description: 'Each gap, from the one after the first pulse of the longest run.',
            },
          ),
        },
        { additionalProperties: false, description: 'The ring, by averaging over its turns.' },
      ),
    ),
    jitter: Type.Object(
      {
        share: plainOut('Spread of a period without ring, missed and extra pulses, as a share of it.'),
        edge: ref(Time, 'Jitter of one edge, rms.'),
        nextCorrelation: plainOut(
          'Correlation with the next period: near -0.5 when edges jitter, near 0 when the speed is restless, above when something sways.',
        ),
      },
      { additionalProperties: false, description: 'What is left; edge: of one edge, rms.' },
    ),
    series: Type.Array(ref(Series), {
      maxItems: 1,
      description: 'speed [km/h], or frequency [Hz] where pulses per distance was not given, over time [s].',
    }),
    recommended: Type.Optional(
      Type.Object(
        {
          filter: ref(Filter, 'The filter.'),
          noiseBeforePercent: plainOut('Noise of the reading, rms, without a filter [% of the speed].'),
          noiseAfterPercent: plainOut('The same with it.'),
          lag: ref(Time, 'Lag of the filter at the steady speed.'),
        },
        {
          additionalProperties: false,
          description: 'The lightest filter that leaves half a percent of noise; absent when none is needed.',
        },
      ),
    ),
    causes: Type.Array(choice(['ring', 'electrical', 'bracket'], { description: 'What is at fault.' }), {
      maxItems: 3,
      description: 'What the cautions among the findings point at; empty when there is none.',
    }),
    findings: Type.Array(
      Type.Object(
        {
          code: choice(
            [
              'ring-errors',
              'ring-eccentric',
              'ring-joint',
              'tooth-loses-pulses',
              'tooth-adds-pulses',
              'missed-at-random',
              'extra-at-random',
              'events-in-bursts',
              'speed-or-bracket-sways',
              'edges-jitter',
              'timer-coarse',
              'counter-wraps',
              'pulses-per-turn-uncertain',
            ],
            { description: 'What was found, for programs.' },
          ),
          level: choice(['info', 'caution'], { description: 'caution: spoils the reading.' }),
          points: Type.Optional(
            choice(['ring', 'electrical', 'bracket'], { description: 'What it points at.' }),
          ),
          chance: Type.Optional(plainOut('Probability that chance alone shows as much, at most.')),
          text: Type.String({ description: 'The finding and its evidence, for people.' }),
        },
        { additionalProperties: false },
      ),
      { maxItems: 20, description: 'What the log shows, with the evidence.' },
    ),
  },
)

export type LogAnalysisRequestShape = Static<typeof LogAnalysisRequest>
export type LogAnalysisQueryShape = Static<typeof LogAnalysisQuery>
export type LogAnalysisAnswerShape = Static<typeof LogAnalysisAnswer>
