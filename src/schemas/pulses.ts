import { Type } from '@sinclair/typebox'
import { calculationAnswer } from './answers.js'
import {
  Frequency,
  Length,
  PerDistance,
  PerDistanceIn,
  Ratio,
  RatioIn,
  SetSpeedIn,
  SetTimeIn,
  Speed,
  Time,
  TimeIn,
} from './measures.js'
import { named, ref } from './named-shapes.js'
import { count, plainOut } from './plain-values.js'
import { Tire } from './tires.js'

export const PulseRatioRequest = named(
  'PulseRatioRequest',
  Type.Object(
    {
      tire: ref(Tire, 'The tire on the driven wheels.'),
      pulsesPerTurn: count({
        minimum: 1,
        maximum: 10_000,
        description: 'Pulses in one turn of the shaft that carries the ring.',
      }),
      shaftTurnsPerWheelTurn: Type.Optional(
        ref(
          RatioIn,
          'Turns of the shaft that carries the ring per wheel turn; left out: 1.',
          'shaft turns per wheel turn',
        ),
      ),
      topSpeed: Type.Optional(
        ref(
          SetSpeedIn,
          'Highest speed, for the interrupt load and the table; left out: no interruptLoadPercent, and a table of 10, 20, 50 and 100 km/h unless speeds is given.',
        ),
      ),
      speeds: Type.Optional(
        Type.Array(ref(SetSpeedIn), {
          minItems: 1,
          maxItems: 200,
          description: 'Speeds of the table; left out: tenths of topSpeed.',
        }),
      ),
      zeroTimeout: Type.Optional(
        ref(
          TimeIn,
          'Time without a pulse after which zero is shown; left out: no lowestSpeedShown.',
          'zero timeout',
        ),
      ),
      timerTick: Type.Optional(ref(SetTimeIn, 'Time of one timer tick; left out: no speedStepByPeriod.')),
      gateTime: Type.Optional(
        ref(SetTimeIn, 'Gate time over which pulses are counted; left out: no speedStepByGate.'),
      ),
      interruptTime: Type.Optional(
        ref(SetTimeIn, 'Time that one pulse interrupt takes; left out: no interruptLoadPercent.'),
      ),
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
    pulses: ref(PerDistance, 'Pulses per distance.'),
    distancePerPulse: ref(Length, 'Distance covered between two pulses.'),
    table: Type.Array(
      Type.Object(
        {
          speed: ref(Speed, 'The speed.'),
          frequency: ref(Frequency, 'Pulse frequency at this speed.'),
          period: ref(Time, 'Time between two pulses at this speed.'),
          speedStepByPeriod: Type.Optional(
            ref(
              Speed,
              'Speed step that one timer tick makes when one period is timed; absent without timerTick.',
            ),
          ),
          speedStepByGate: Type.Optional(
            ref(
              Speed,
              'Speed step that one pulse makes when pulses are counted over the gate time; absent without gateTime.',
            ),
          ),
        },
        {
          additionalProperties: false,
          description: 'One speed: the steps are those of timing one period, and of counting over the gate.',
        },
      ),
      { maxItems: 200, description: 'One row per speed.' },
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
      { additionalProperties: false, description: 'Firmware constants.' },
    ),
    lowestSpeedShown: Type.Optional(
      ref(Speed, 'Lowest speed that is shown before the zero timeout; absent without zeroTimeout.'),
    ),
    crossoverFrequency: Type.Optional(
      ref(
        Frequency,
        'Pulse frequency at which timing a period and counting over the gate resolve alike: time periods below it. Absent without timerTick and gateTime.',
      ),
    ),
    crossoverSpeed: Type.Optional(
      ref(Speed, 'Speed at which they resolve alike; absent without timerTick and gateTime.'),
    ),
    interruptLoadPercent: Type.Optional(
      plainOut('Share of the time spent in the pulse interrupt at topSpeed [%].'),
    ),
    counterWrap: Type.Optional(
      ref(
        Time,
        'Time after which the timer counter starts again from zero; absent without counterBits and timerTick.',
      ),
    ),
    onFreeCircumference: Type.Optional(
      Type.Object(
        {
          pulses: ref(PerDistance, 'Pulses per distance on the free circumference.'),
          distancePerPulse: ref(Length, 'Distance between two pulses on the free circumference.'),
          differencePercent: plainOut('By how much that arithmetic lies from the rolling circumference [%].'),
        },
        {
          additionalProperties: false,
          description:
            'The same with pi times the diameter, the usual arithmetic from the sidewall marking; for comparison only.',
        },
      ),
    ),
  },
)

export const PulseScalingRequest = named(
  'PulseScalingRequest',
  Type.Object(
    {
      from: ref(PerDistanceIn, 'Pulses per distance at the input of the scaler.', 'from'),
      to: ref(PerDistanceIn, 'Pulses per distance wanted at its output.', 'to'),
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
    ratio: ref(Ratio, 'Pulses out per pulse in, exactly.'),
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
