import { Type } from '@sinclair/typebox'
import { STANDINGS } from '../domain/measure/sources.js'
import { calculationAnswer, Note } from './answers.js'
import { assumptions } from './assumptions.js'
import {
  Frequency,
  Length,
  PerDistance,
  Ratio,
  RatioIn,
  RotationalSpeed,
  SetSpeedIn,
  Span,
  Speed,
  Time,
} from './measures.js'
import { closed, listOf, named, ref } from './named-shapes.js'
import { BendRadiusIn, PickUpOption, ShortTimeIn, TrackWidthIn } from './pick-up-options.js'
import { choice, plain, plainOut } from './plain-values.js'
import { Tire } from './tires.js'

/** Kinds of options whose pulses are counted behind the final drive. */
const NEED_FINAL_DRIVE = ['propeller-shaft', 'gearbox']

export const PickUpComparisonRequest = named(
  'PickUpComparisonRequest',
  Type.Object(
    {
      tire: ref(Tire, 'The tire on the driven wheels.'),
      finalDrive: Type.Optional(
        ref(
          RatioIn,
          'Ratio of the final drive, propeller-shaft turns per wheel turn; required by propeller-shaft and gearbox options.',
          'final drive: ratio',
        ),
      ),
      trackWidth: Type.Optional(
        ref(
          TrackWidthIn,
          'Distance between the wheels of the axle; left out: 1.35 m, from 1.2 to 1.5.',
          'car: track width',
        ),
      ),
      maxSlipPercent: Type.Optional(
        plain({
          minimum: 0,
          maximum: 20,
          description: 'Maximum slip of the driven wheels at steady speed [%]; left out: 1.',
        }),
      ),
      speeds: Type.Array(ref(SetSpeedIn), {
        minItems: 1,
        maxItems: 20,
        description: 'Speeds at which to compare.',
      }),
      bendRadii: Type.Optional(
        Type.Array(ref(BendRadiusIn), {
          minItems: 1,
          maxItems: 10,
          description: 'Radii of bends, to the middle of the axle; left out: 10 m and 50 m.',
        }),
      ),
      display: Type.Optional(
        Type.Object(
          {
            update: Type.Optional(
              ref(ShortTimeIn, 'Time between two updates of the display; left out: 0.25 s.'),
            ),
            step: Type.Optional(ref(SetSpeedIn, 'Step of the digits; left out: 1 km/h.')),
            timerTick: Type.Optional(ref(ShortTimeIn, 'Time of one timer tick; left out: 1 us.')),
            zeroTimeout: Type.Optional(
              ref(ShortTimeIn, 'Time without a pulse after which zero is shown; left out: 1 s.'),
            ),
          },
          {
            ...closed,
            description:
              'Display and timing shared by all numeric options; what is left out has the default of its field.',
          },
        ),
      ),
      options: Type.Array(ref(PickUpOption), {
        minItems: 1,
        maxItems: 12,
        description: 'Pick-ups to compare.',
      }),
    },
    {
      ...closed,
      dependentSchemas: {
        options: {
          anyOf: [
            { required: ['finalDrive'] },
            {
              properties: {
                options: {
                  items: {
                    properties: {
                      kind: { not: { enum: NEED_FINAL_DRIVE } },
                      signal: { properties: { kind: { not: { enum: NEED_FINAL_DRIVE } } } },
                    },
                  },
                },
              },
            },
          ],
        },
      },
      description: 'A car and the pick-ups to compare on it.',
      examples: [
        {
          tire: { size: '185/70R14' },
          finalDrive: 3.7,
          trackWidth: { mm: 1340, plusMinus: 10 },
          speeds: [{ kmh: 5 }, { kmh: 50 }, { kmh: 120 }],
          options: [
            { kind: 'shaft-ring', name: 'left half shaft', pulsesPerTurn: 8 },
            { kind: 'propeller-shaft', pulsesPerTurn: 4 },
            { kind: 'gearbox', pulsesPerTurn: 8, driveRatio: 0.35, oldDriveStays: true },
            { kind: 'satellite', rate: { hz: 10 } },
            {
              kind: 'driven-head',
              signal: { kind: 'propeller-shaft', pulsesPerTurn: 4 },
              head: { constant: { perMile: 1000 } },
            },
          ],
        },
        {
          tire: { rollingCircumference: { mm: 1885, plusMinus: 5 } },
          speeds: [{ mph: 10 }, { mph: 60 }],
          display: { update: { s: 0.5 }, zeroTimeout: { s: 0.45 } },
          options: [
            {
              kind: 'magnetic-sensor',
              pulses: { perKm: 4000, plusMinus: 40 },
              amplitude: { v: 1.5 },
              at: { kmh: 20 },
              requiredAmplitude: { v: 0.12 },
            },
            { kind: 'shaft-ring', pulsesPerTurn: 8, axle: 'free', wheels: 'both' },
          ],
        },
      ],
    },
  ),
)

const standing = choice(STANDINGS, {
  description: 'How well the value is known.',
})

const PickUpRow = named(
  'PickUpRow',
  Type.Object(
    {
      speed: ref(Speed, 'The speed of the request.'),
      shown: Type.Boolean({
        description: 'Whether the option shows this speed; if not, the rest is absent.',
      }),
      frequency: Type.Optional(
        ref(Frequency, 'Pulse frequency at this speed; absent where there are no pulses.'),
      ),
      headSpeed: Type.Optional(
        ref(RotationalSpeed, 'Rotational speed of the old head; only with a driven head.'),
      ),
      signalStep: Type.Optional(ref(Speed, 'Step of the signal in speed, before the display rounds it.')),
      resolution: Type.Optional(ref(Speed, 'Smallest change of speed that the display shows.')),
      delay: Type.Optional(ref(Time, 'Mean delay of the reading at steady acceleration.')),
      timeToFirstReading: Type.Optional(
        ref(Time, 'Time to the first reading: two pulse periods at this speed, or the first fix.'),
      ),
      error: Type.Optional(ref(Speed, 'Shown less true speed, with its uncertainty.')),
      errorBudget: Type.Optional(
        Type.Array(
          Type.Object(
            {
              input: Type.String({
                description: 'Input of the computation that contributes to the uncertainty.',
              }),
              sharePercent: plainOut('Share of the variance [%].'),
              plusMinus: ref(Speed, 'Contribution to the uncertainty of the error, 95 %.'),
              standing,
            },
            closed,
          ),
          { maxItems: 40, description: 'What the uncertainty of the error comes from, largest first.' },
        ),
      ),
    },
    {
      ...closed,
      description:
        'One option at one speed: resolution, mean delay at steady acceleration, and error (shown less true) with its uncertainty.',
    },
  ),
)

const whereItWorks = (description: string) =>
  Type.Object(
    {
      works: Type.Boolean({ description: 'Whether there is a reading.' }),
      text: Type.String({ description: 'What happens, for people.' }),
    },
    { ...closed, description },
  )

const PickUpResult = named(
  'PickUpResult',
  Type.Object(
    {
      kind: choice(
        ['shaft-ring', 'propeller-shaft', 'gearbox', 'magnetic-sensor', 'satellite', 'driven-head'],
        { description: 'Kind of the option.' },
      ),
      name: Type.String({ description: 'Name of the option.' }),
      lowestSpeed: ref(Speed, 'Lowest speed that is shown.'),
      timeToZero: ref(Time, 'Time from standstill until zero is shown.'),
      table: listOf(PickUpRow, 20, 'One row for each speed of the request.'),
      bends: Type.Array(
        Type.Object(
          {
            radius: ref(Span, 'Radius of the bend.'),
            outerPercent: ref(Ratio, 'Change of the reading with the pick-up on the outer side [%].'),
            innerPercent: ref(Ratio, 'Change of the reading with the pick-up on the inner side [%].'),
          },
          {
            ...closed,
            description: 'Effect of a bend on the reading.',
          },
        ),
        { maxItems: 10, description: 'Behavior in bends.' },
      ),
      tunnels: whereItWorks('Behavior in tunnels.'),
      start: whereItWorks('Behavior at the start.'),
      odometer: Type.Object(
        {
          continues: Type.Boolean({ description: 'Whether the old odometer continues to count.' }),
          text: Type.String({ description: 'What happens to the odometer, for people.' }),
        },
        { ...closed, description: 'The odometer.' },
      ),
      assumptions,
      risks: listOf(Note, 10, 'What can go wrong.'),
      pulses: Type.Optional(ref(PerDistance, 'Pulses per distance; absent where there are no pulses.')),
      distancePerPulse: Type.Optional(
        ref(Length, 'Distance covered between two pulses; absent where there are no pulses.'),
      ),
      firstReading: Type.Optional(
        ref(Length, 'Longest distance from standstill to the first reading; absent without pulses.'),
      ),
      coldStart: Type.Optional(
        ref(Time, 'Time to the first fix after a long rest; only with a satellite receiver.'),
      ),
      warmStart: Type.Optional(
        ref(Time, 'Time to the first fix after a short rest; only with a satellite receiver.'),
      ),
    },
    {
      ...closed,
      description: 'One option on this car.',
    },
  ),
)

export const PickUpComparisonAnswer = calculationAnswer(
  'PickUpComparisonAnswer',
  'Ways to pick up the speed, side by side.',
  {
    options: listOf(PickUpResult, 12, 'Results, in the order of the request.'),
    leaders: Type.Array(
      Type.Object(
        {
          criterion: choice(['smallest-error', 'shortest-delay', 'lowest-speed', 'finest-resolution'], {
            description: 'Criterion of the comparison.',
          }),
          option: Type.Integer({ description: 'Index into options.', 'x-dimensionless': true }),
          name: Type.String({ description: 'Name of the option.' }),
          speed: Type.Optional(
            ref(Speed, 'Speed of the comparison; absent where the criterion does not depend on speed.'),
          ),
        },
        closed,
      ),
      { maxItems: 70, description: 'Best option by each criterion; the first of equals.' },
    ),
    assumptions,
  },
)
