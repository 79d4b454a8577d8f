import { Type } from '@sinclair/typebox'
import { calculationAnswer } from './answers.js'
import {
  count,
  Frequency,
  Length,
  named,
  PerDistance,
  PerDistanceIn,
  plainOut,
  Ratio,
  RatioIn,
  ref,
  SetSpeedIn,
  SetTimeIn,
  Speed,
  Time,
  TimeIn,
} from './measures.js'
import { Tire } from './tires.js'

export const PulseRatioRequest = named(
  'PulseRatioRequest',
  Type.Object(
    {
      tire: ref(Tire),
      pulsesPerTurn: count({
        minimum: 1,
        maximum: 10_000,
        description: 'Pulses in one turn of the shaft that carries the ring.',
      }),
      shaftTurnsPerWheelTurn: Type.Optional(ref(RatioIn)),
      topSpeed: Type.Optional(ref(SetSpeedIn)),
      speeds: Type.Optional(
        Type.Array(ref(SetSpeedIn), {
          minItems: 1,
          maxItems: 200,
          description: 'Speeds of the table; left out: tenths of topSpeed.',
        }),
      ),
      zeroTimeout: Type.Optional(ref(TimeIn)),
      timerTick: Type.Optional(ref(SetTimeIn)),
      gateTime: Type.Optional(ref(SetTimeIn)),
      interruptTime: Type.Optional(ref(SetTimeIn)),
      counterBits: Type.Optional(
        count({ minimum: 8, maximum: 64, description: 'Width of the timer counter [bits].' }),
      ),
    },
    {
      additionalProperties: false,
      examples: [
        {
          tire: { size: '225/60R15' },
          pulsesPerTurn: 16,
          topSpeed: { mph: 100 },
          zeroTimeout: { ms: 500 },
          timerTick: { us: 1 },
          gateTime: { ms: 500 },
          interruptTime: { us: 8 },
          counterBits: 32,
        },
      ],
    },
  ),
)

const speedTimesPeriod = (unit: string, ucum: string) =>
  Type.Number({ description: `Divide by the pulse period to get the speed [${unit}].`, 'x-unit': ucum })

export const PulseRatioAnswer = calculationAnswer(
  'PulseRatioAnswer',
  'Pulses per distance, and what timing makes of them.',
  {
    pulses: ref(PerDistance),
    distancePerPulse: ref(Length),
    table: Type.Array(
      Type.Object(
        {
          speed: ref(Speed),
          frequency: ref(Frequency),
          period: ref(Time),
          speedStepByPeriod: Type.Optional(ref(Speed)),
          speedStepByGate: Type.Optional(ref(Speed)),
        },
        {
          additionalProperties: false,
          description: 'One speed: the steps are those of timing one period, and of counting over the gate.',
        },
      ),
      { maxItems: 200, description: 'One row a speed.' },
    ),
    constants: Type.Object(
      {
        speedTimesPeriod: Type.Object(
          {
            kmhS: speedTimesPeriod('km/h times second', 'km/h.s'),
            mphS: speedTimesPeriod('mph times second', '[mi_i]/h.s'),
            kmhUs: speedTimesPeriod('km/h times microsecond', 'km/h.us'),
            mphUs: speedTimesPeriod('mph times microsecond', '[mi_i]/h.us'),
          },
          {
            additionalProperties: false,
            description: 'Speed times period of one pulse: the same at every speed.',
          },
        ),
      },
      { additionalProperties: false, description: 'Constants for a program.' },
    ),
    lowestSpeedShown: Type.Optional(ref(Speed)),
    crossoverFrequency: Type.Optional(ref(Frequency)),
    crossoverSpeed: Type.Optional(ref(Speed)),
    interruptLoadPercent: Type.Optional(
      plainOut('Share of the time spent in the pulse interrupt at topSpeed [%].'),
    ),
    counterWrap: Type.Optional(ref(Time)),
    onFreeCircumference: Type.Optional(
      Type.Object(
        {
          pulses: ref(PerDistance),
          distancePerPulse: ref(Length),
          differencePercent: plainOut('By how much that arithmetic lies from the rolling circumference [%].'),
        },
        {
          additionalProperties: false,
          description:
            'The same by pi times the diameter: what the arithmetic on the sidewall label gives, for comparison only.',
        },
      ),
    ),
  },
)

export const PulseScalingRequest = named(
  'PulseScalingRequest',
  Type.Object(
    {
      from: ref(PerDistanceIn),
      to: ref(PerDistanceIn),
      maxTerm: count({
        minimum: 1,
        maximum: 1_000_000_000,
        description: 'Largest whole number that the scaler takes.',
      }),
      bits: Type.Optional(
        count({ minimum: 4, maximum: 48, description: 'Width of a phase accumulator [bits].' }),
      ),
    },
    {
      additionalProperties: false,
      examples: [
        { from: { perMile: 12605 }, to: { perMile: 8000 }, maxTerm: 99, bits: 16 },
        { from: { perKm: 4244.03, plusMinus: 20 }, to: { perMile: 8000 }, maxTerm: 255 },
      ],
    },
  ),
)

export const PulseScalingAnswer = calculationAnswer(
  'PulseScalingAnswer',
  'Whole numbers that turn one pulse rate into another.',
  {
    ratio: ref(Ratio),
    exactRatio: Type.String({ description: 'The ratio as one of whole numbers, from the figures as given.' }),
    candidates: Type.Array(
      Type.Object(
        {
          multiply: count({ minimum: 1, maximum: 1e9, description: 'Pulses out.' }),
          divide: count({ minimum: 1, maximum: 1e9, description: 'Pulses in.' }),
          errorPercent: plainOut('Error against the exact ratio [%].'),
        },
        { additionalProperties: false, description: 'One setting.' },
      ),
      { maxItems: 50, description: 'Nearest first.' },
    ),
    accumulator: Type.Optional(
      Type.Object(
        {
          bits: count({ minimum: 4, maximum: 48, description: 'Width [bits].' }),
          word: count({
            minimum: 1,
            maximum: Number.MAX_SAFE_INTEGER,
            description: 'Number to add at each pulse in.',
          }),
          errorPercent: plainOut('Error against the exact ratio [%].'),
        },
        { additionalProperties: false, description: 'A phase accumulator: each overflow is a pulse out.' },
      ),
    ),
  },
)
