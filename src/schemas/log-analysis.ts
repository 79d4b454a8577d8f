import { type Static, Type } from '@sinclair/typebox'
import { calculationAnswer, Series } from './answers.js'
import { Filter } from './filters.js'
import { PerDistanceIn, SetTimeIn, Time } from './measures.js'
import { listOf, named, ref } from './named-shapes.js'
import { choice, count, plain, plainOut } from './plain-values.js'
import { eventCount, pulsesPerTurn } from './pulse-counts.js'
import { lineText } from './texts.js'

const logSettings = {
  pulsesPerTurn: pulsesPerTurn(),
  pulses: Type.Optional(
    ref(
      PerDistanceIn,
      'Pulses per distance, for a series of speed; left out: the series shows frequency.',
      'pulses per distance',
    ),
  ),
  unit: Type.Optional(
    choice(['s', 'ms', 'us'], { description: 'Unit of the values; not with tick. Left out: s.' }),
  ),
  tick: Type.Optional(
    ref(
      SetTimeIn,
      'Time of one count, when the values are timer counts; not with unit. Left out: the values are times in unit.',
    ),
  ),
  seriesPoints: Type.Optional(
    count({
      minimum: 2,
      maximum: 2000,
      description: 'Maximum number of points of the series; left out: 500.',
    }),
  ),
}

/** Most pulses of a log: half an hour at 500 per second. The analysis takes some hundred bytes of memory per pulse. */
export const MAX_LOGGED = 1_000_000

const logged = (description: string) =>
  Type.Array(plain({ minimum: -1e15, maximum: 1e15, description: 'Value in unit, or in counts of tick.' }), {
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
          times: logged('Time of each pulse, in order; wraps of the counter are corrected.'),
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

/** Settings of a log in a table, which has no place for them. */
export const LogTableQuery = Type.Object(
  {
    column: Type.Optional(
      lineText(
        100,
        'Column of the values, by its name in the first row or by its number from 1. Left out: 1.',
      ),
    ),
    content: Type.Optional(
      choice(['periods', 'times'], {
        description:
          'What the column contains, times or periods. Left out: times; required where the heading names periods.',
      }),
    ),
    delimiter: Type.Optional(
      choice(['comma', 'semicolon', 'tab'], {
        description: 'Column separator. Left out: comma.',
      }),
    ),
    unit: Type.Optional(
      choice(['s', 'ms', 'us'], {
        description:
          'Unit of the values. Left out: s; required where the heading of the column names another unit.',
      }),
    ),
    tickUs: Type.Optional(
      Type.Number({
        minimum: 0.01,
        maximum: 1e6,
        description: 'Time of one count, when the values are timer counts [microsecond].',
        'x-unit': 'us',
      }),
    ),
    pulsesPerTurn: { ...pulsesPerTurn(), examples: [4] },
    pulsesPerKm: Type.Optional(
      Type.Number({
        minimum: 1,
        maximum: 1e7,
        description: 'Pulses per kilometer, for the speed series.',
        'x-unit': '/km',
      }),
    ),
    seriesPoints: Type.Optional(
      count({
        minimum: 2,
        maximum: 2000,
        description: 'Maximum number of points of the series. Left out: 500.',
      }),
    ),
  },
  { additionalProperties: false },
)

const gapOfRing = () => count({ minimum: 0, maximum: 999, description: 'Gap of the ring, from 0.' })
const itemIndex = (description: string) => count({ minimum: 0, maximum: MAX_LOGGED, description })

/** Maximum number of places of missed or of extra pulses that an answer lists. */
const MAX_PLACES = 100_000

export const LogAnalysisAnswer = calculationAnswer(
  'LogAnalysisAnswer',
  'Condition of ring, signal and timer found from a log. A quantity that the log does not determine is absent.',
  {
    pulses: eventCount('Pulses recorded.'),
    duration: ref(Time, 'Time from the first pulse to the last.'),
    resolution: Type.Optional(ref(Time, 'Step of the values; absent when no step is distinguishable.')),
    wrap: Type.Optional(ref(Time, 'Span after which the counter wraps; absent when it does not.')),
    wraps: eventCount('Number of times that the counter wrapped.'),
    runs: Type.Array(
      Type.Object(
        {
          firstIndex: itemIndex('First item of the stretch.'),
          lastIndex: itemIndex('Last item of the stretch.'),
          phase: count({
            minimum: 0,
            maximum: 999,
            description: 'Gap of the ring that follows the first pulse of the stretch.',
          }),
        },
        { additionalProperties: false },
      ),
      {
        maxItems: 1000,
        description: 'Steady stretches, in which pulses were assigned to the gaps of the ring.',
      },
    ),
    unsteadyPulses: eventCount('Pulses outside the steady stretches: at a stop, or at walking pace.'),
    missedTotal: eventCount('Pulses of the ring that are missing from the log.'),
    missed: Type.Array(
      Type.Object(
        {
          index: itemIndex('Item of the log after the missing pulse: a period or a time.'),
          count: count({ minimum: 1, maximum: 100, description: 'Pulses missed there.' }),
          gap: gapOfRing(),
        },
        { additionalProperties: false },
      ),
      { maxItems: MAX_PLACES, description: 'Where pulses were missed.' },
    ),
    extraTotal: eventCount('Pulses that the ring did not cause.'),
    extra: Type.Array(
      Type.Object(
        { index: itemIndex('Item of the log that ends with the extra pulse.'), gap: gapOfRing() },
        { additionalProperties: false },
      ),
      { maxItems: MAX_PLACES, description: 'Where there was an extra pulse.' },
    ),
    ring: Type.Optional(
      Type.Object(
        {
          significant: Type.Boolean({
            description: 'Whether the errors exceed what chance (3 in 1000) and the timer steps explain.',
          }),
          rms: plainOut('Gap errors, rms, as a share of the pitch.'),
          eccentricity: plainOut('Once-per-turn error, as offset of the center over the pitch radius.'),
          widestGap: gapOfRing(),
          oncePerTurnShare: plainOut(
            'Share of the variance of the gap errors that is once per turn, 0 to 1.',
          ),
          gaps: Type.Array(
            Type.Object(
              {
                error: plainOut('Error of the gap: (gap - pitch) / pitch.'),
                plusMinus: plainOut('Uncertainty of the error, 95 %.'),
                passes: eventCount('Turns in which the gap was measured.'),
                missed: eventCount('Pulses missed in this gap.'),
                extra: eventCount('Extra pulses in this gap.'),
              },
              { additionalProperties: false },
            ),
            {
              maxItems: 1000,
              description: 'Each gap, from the one after the first pulse of the longest run.',
            },
          ),
        },
        { additionalProperties: false, description: 'The ring, averaged over its turns.' },
      ),
    ),
    jitter: Type.Object(
      {
        share: plainOut(
          'Spread of the period once ring errors, missed and extra pulses are removed, as a share of the period.',
        ),
        edge: ref(Time, 'Jitter of one edge, rms.'),
        nextCorrelation: plainOut(
          'Correlation of a period with the next: near -0.5 for edge jitter, near 0 for irregular speed, above 0 when speed or bracket oscillates.',
        ),
      },
      { additionalProperties: false, description: 'Jitter that remains.' },
    ),
    series: listOf(
      Series,
      1,
      'speed [km/h], or frequency [Hz] where pulses per distance was not given, over time [s].',
    ),
    recommended: Type.Optional(
      Type.Object(
        {
          filter: ref(Filter, 'The filter.'),
          noiseBeforePercent: plainOut('Noise of the reading, rms, without a filter [% of the speed].'),
          noiseAfterPercent: plainOut('Noise of the reading, rms, with the filter [% of the speed].'),
          lag: ref(Time, 'Lag of the filter at the steady speed.'),
        },
        {
          additionalProperties: false,
          description:
            'The lightest filter that reduces the noise to half a percent; absent when none is needed.',
        },
      ),
    ),
    causes: Type.Array(choice(['ring', 'electrical', 'bracket'], { description: 'What is at fault.' }), {
      maxItems: 3,
      description: 'Causes that the cautions among the findings point to; empty without cautions.',
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
            { description: 'Code of the finding, for programs.' },
          ),
          level: choice(['info', 'caution'], { description: 'caution: makes the reading unreliable.' }),
          points: Type.Optional(
            choice(['ring', 'electrical', 'bracket'], { description: 'Cause that it points to.' }),
          ),
          chance: Type.Optional(plainOut('Upper bound of the probability that chance alone explains it.')),
          text: Type.String({ description: 'The finding and its evidence, for people.' }),
        },
        { additionalProperties: false },
      ),
      { maxItems: 20, description: 'Findings, with the evidence.' },
    ),
  },
)

export type LogTableQueryShape = Static<typeof LogTableQuery>
export type LogAnalysisAnswerShape = Static<typeof LogAnalysisAnswer>
