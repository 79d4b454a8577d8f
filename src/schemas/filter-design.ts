import { Type } from '@sinclair/typebox'
import { calculationAnswer } from './answers.js'
import { Filter } from './filters.js'
import { measureIn } from './measure-shapes.js'
import {
  Distance,
  FrequencyIn,
  PerDistanceIn,
  SetSpeedIn,
  SetTimeIn,
  Speed,
  SpeedIn,
  Time,
} from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { choice, count, plain, plainOut } from './plain-values.js'
import { pulsesPerTurn } from './pulse-counts.js'

const SpeedNoiseIn = measureIn('SpeedNoiseIn', 'speed', {
  min: 1e-6,
  max: 100,
  description: 'Noise of a speed reading, rms.',
})
const SetSpeedNoiseIn = measureIn('SetSpeedNoiseIn', 'speed', {
  min: 1e-6,
  max: 100,
  description: 'Noise of a speed reading, rms, that is asked for.',
  uncertainty: false,
})

const Sampling = named(
  'Sampling',
  Type.Union(
    [
      Type.Object(
        { frequency: ref(FrequencyIn, 'Readings per second.', 'rate of the readings') },
        { additionalProperties: false, title: 'readings at a fixed rate' },
      ),
      Type.Object(
        {
          pulses: ref(
            PerDistanceIn,
            'Pulses per distance; one reading is taken at each.',
            'pulses per distance',
          ),
          speed: ref(
            SpeedIn,
            'Speed at which the noise was measured; the recommended factor is for this speed.',
            'speed of the sampling',
          ),
          noiseGrowth: Type.Optional(
            choice(['none', 'with-speed', 'with-speed-squared'], {
              description:
                'How the noise changes with speed: with-speed for tooth errors (a fixed share of a period), with-speed-squared for timing errors of edges and timer. Left out: none, the noise is the same at every speed.',
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
      noise: ref(SpeedNoiseIn, 'Noise of one reading before the filter, rms.', 'noise of one reading'),
      limits: Type.Optional(
        Type.Object(
          {
            noiseAfter: Type.Optional(
              ref(SetSpeedNoiseIn, 'Maximum noise after the filter, rms; left out: no limit.'),
            ),
            lag: Type.Optional(ref(SetTimeIn, 'Maximum lag on a steady ramp of speed; left out: no limit.')),
          },
          {
            additionalProperties: false,
            description: 'Maximum noise after the filter (rms) and maximum lag on a steady ramp.',
          },
        ),
      ),
      pulsesPerTurn: Type.Optional(pulsesPerTurn()),
      factor: Type.Optional(
        plain({
          minimum: 0,
          maximum: 1000,
          description: 'Smoothing factor to evaluate, above 0 and at most 1. Left out: one is recommended.',
        }),
      ),
      speeds: Type.Optional(listOf(SetSpeedIn, 100, 'Further speeds at which the limits apply.')),
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

const FactorRange = shape('FactorRange', 'Smoothing factors that meet the limits.', {
  min: plainOut('Smallest factor that meets the lag limit; 1e-9, the minimum, without a lag limit.'),
  max: plainOut('Largest factor that meets the noise limit; 1 without a noise limit.'),
  minPlusMinus: plainOut('Uncertainty of min, 95 %.'),
  maxPlusMinus: plainOut('Uncertainty of max, 95 %.'),
})

const effect = {
  noiseAfter: ref(Speed, 'Noise after the filter, rms.'),
  rampLag: ref(Time, 'Lag behind a steady ramp of speed.'),
  settling95: ref(Time, 'Time until 95 % of a sudden change is shown.'),
  settling95Readings: count({
    minimum: 1,
    maximum: Number.MAX_SAFE_INTEGER,
    description: 'Readings until 95 % of a sudden change is shown.',
  }),
  meets: Type.Boolean({ description: 'Whether the limits are met at every speed.' }),
}

export const FilterDesignAnswer = calculationAnswer(
  'FilterDesignAnswer',
  'A recommended smoothing factor, the range of factors that meet the limits, and other filters.',
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
            'given: the factor of the request; within-range: it meets every limit; compromise: no factor meets every limit.',
        }),
        timeConstant: ref(Time, 'Time constant of the recommended factor.'),
        shift: Type.Optional(
          count({
            minimum: 0,
            maximum: 24,
            description: 'Shift for integer firmware, the nearest power of two: y += (x - y) / 2^shift.',
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
            description: 'The limit to relax; from-speed: both limits are met from that speed up.',
          }),
          neededLag: Type.Optional(ref(Time, 'Lag to accept; only with limit lag.')),
          neededNoiseAfter: Type.Optional(ref(Speed, 'Noise to accept; only with limit noise-after.')),
          neededSpeed: Type.Optional(
            ref(Speed, 'Speed from which both limits can be met; only with limit from-speed.'),
          ),
          factor: plainOut('Factor that meets the limits then.'),
        },
        { additionalProperties: false },
      ),
      {
        maxItems: 3,
        description: 'When no factor meets every limit: each limit relaxed alone, and by how much.',
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
            { description: 'Kind of the filter.' },
          ),
          filter: ref(Filter, 'The filter.'),
          badReadingsIgnored: count({
            minimum: 0,
            maximum: 2,
            description: 'Consecutive bad readings that the filter rejects completely.',
          }),
          freeOfRingErrors: Type.Optional(
            Type.Boolean({
              description: 'Whether the filter cancels errors that repeat every turn of the ring.',
            }),
          ),
          oncePerTurnGain: Type.Optional(
            plainOut('Share of a once-per-turn error (an eccentric ring) that remains.'),
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
        description: 'The recommended factor at each speed, with the range of factors for that speed alone.',
      },
    ),
  },
)
