import { Type } from '@sinclair/typebox'
import { calculationAnswer, Note } from './answers.js'
import { assumptions } from './assumptions.js'
import { VoltageIn } from './electrics/quantities.js'
import {
  choice,
  count,
  Frequency,
  Length,
  measureIn,
  named,
  PerDistance,
  PerDistanceIn,
  plain,
  plainOut,
  Ratio,
  RatioIn,
  RotationalSpeed,
  ref,
  SetSpeedIn,
  Span,
  Speed,
  SpeedIn,
  Time,
} from './measures.js'
import { lineText } from './texts.js'
import { Tire } from './tires.js'

const closed = { additionalProperties: false }

export const TrackWidthIn = measureIn('TrackWidthIn', 'length', {
  min: 0.5,
  max: 3,
  description: 'Distance between the wheels of an axle.',
})
export const ShortTimeIn = measureIn('ShortTimeIn', 'time', {
  min: 1e-8,
  max: 600,
  description: 'A time of the display, the receiver or the motor.',
  uncertainty: false,
})
export const RateIn = measureIn('RateIn', 'frequency', {
  min: 0.1,
  max: 100,
  description: 'A rate of position fixes.',
  uncertainty: false,
})
export const BendRadiusIn = measureIn('BendRadiusIn', 'span', {
  min: 1,
  max: 1e5,
  description: 'Radius of a bend, to the middle of the axle.',
  uncertainty: false,
})
export const RotationalSpeedIn = measureIn('RotationalSpeedIn', 'rotational-speed', {
  min: 1e-4,
  max: 200,
  description: 'A rotational speed of the motor.',
  uncertainty: false,
})

const common = {
  name: Type.Optional(
    lineText(80, 'Name of the option; left out: its kind.', { examples: ['left half shaft'] }),
  ),
  oldDriveStays: Type.Optional(
    Type.Boolean({
      description: 'Whether the old drive continues to turn the old head. Left out: no.',
    }),
  ),
}
const flaws = {
  pitchErrorPercent: Type.Optional(
    plain({
      minimum: 0,
      maximum: 50,
      description: 'Standard uncertainty of the position of one edge [% of the pitch]; left out: 1.',
    }),
  ),
  eccentricityPercent: Type.Optional(
    plain({
      minimum: 0,
      maximum: 50,
      description: 'Eccentricity of the ring [% of its radius]; left out: 0.5.',
    }),
  ),
}
const pulsesPerTurn = count({ minimum: 1, maximum: 10_000, description: 'Pulses in one turn of the ring.' })

const ShaftRingOption = Type.Object(
  {
    kind: choice(['shaft-ring'], { description: 'A ring on an axle shaft or wheel.' }),
    ...common,
    pulsesPerTurn,
    axle: Type.Optional(
      choice(['driven', 'free'], {
        description: 'Whether the axle is driven by the engine or free-rolling; left out: driven.',
      }),
    ),
    wheels: Type.Optional(
      choice(['one', 'both'], {
        description: 'A ring on one wheel, or on both wheels with the mean of the two; left out: one.',
      }),
    ),
    ...flaws,
  },
  { ...closed, title: 'ring on an axle shaft' },
)

const PropellerShaftOption = Type.Object(
  {
    kind: choice(['propeller-shaft'], { description: 'A ring on the propeller shaft; needs finalDrive.' }),
    ...common,
    pulsesPerTurn,
    ...flaws,
  },
  { ...closed, title: 'ring on the propeller shaft' },
)

const GearboxOption = Type.Object(
  {
    kind: choice(['gearbox'], {
      description: 'A pulse sensor on the speedometer drive of the gearbox; needs finalDrive.',
    }),
    ...common,
    pulsesPerTurn,
    driveRatio: ref(
      RatioIn,
      'Turns of the speedometer drive per turn of the propeller shaft: driving over driven teeth.',
      'gearbox: ratio of the speedometer drive',
    ),
    ...flaws,
  },
  {
    ...closed,
    title: 'sensor at the gearbox output',
    description: 'A pulse sensor on the speedometer drive of the gearbox.',
  },
)

const MagneticSensorOption = Type.Object(
  {
    kind: choice(['magnetic-sensor'], {
      description: 'The existing magnetic sensor, with a comparator.',
    }),
    ...common,
    pulses: ref(PerDistanceIn, 'Pulses of the sensor per distance.', 'sensor: pulses per distance'),
    pulsesPerTurn: Type.Optional(pulsesPerTurn),
    amplitude: ref(VoltageIn, 'Peak voltage of the sensor at the speed given in at.', 'sensor: amplitude'),
    at: ref(SpeedIn, 'Speed at which amplitude was measured.', 'sensor: speed of the amplitude'),
    requiredAmplitude: ref(
      VoltageIn,
      'Peak voltage that the comparator needs, from POST /v1/electrics/threshold.',
      'comparator: peak needed',
    ),
    ...flaws,
  },
  {
    ...closed,
    title: 'existing magnetic sensor',
    description:
      'An existing magnetic sensor, by its amplitude at one speed and the amplitude that the comparator needs.',
  },
)

const SatelliteOption = Type.Object(
  {
    kind: choice(['satellite'], { description: 'A satellite receiver.' }),
    ...common,
    rate: ref(RateIn, 'Position fixes per second.'),
    axisUncertainty: Type.Optional(
      ref(SetSpeedIn, 'Uncertainty of the speed along one axis, 95 %; left out: 0.2 m/s.'),
    ),
    latency: Type.Optional(ref(ShortTimeIn, 'Delay from a fix to its output; left out: 0.5 s.')),
    coldStart: Type.Optional(ref(ShortTimeIn, 'Time to the first fix after a long rest; left out: 45 s.')),
    warmStart: Type.Optional(ref(ShortTimeIn, 'Time to the first fix after a short rest; left out: 3 s.')),
    steepestSlopePercent: Type.Optional(
      plain({ minimum: 0, maximum: 60, description: 'Steepest slope of the roads [%]; left out: 6.' }),
    ),
  },
  {
    ...closed,
    title: 'satellite receiver',
    description: 'A satellite receiver, by its data sheet; what is left out has the default of its field.',
  },
)

export const SignalOption = named(
  'SignalOption',
  Type.Union([ShaftRingOption, PropellerShaftOption, GearboxOption, MagneticSensorOption, SatelliteOption], {
    description: 'A pick-up that delivers pulses or a speed.',
  }),
)

const DrivenHeadOption = Type.Object(
  {
    kind: choice(['driven-head'], {
      description: 'An electric motor that turns the old head, controlled by another pick-up.',
    }),
    name: common.name,
    signal: ref(SignalOption, 'The pick-up that controls the motor.'),
    head: Type.Object(
      {
        constant: ref(PerDistanceIn, 'Turns per distance at which the head reads true.', 'head: constant'),
        uncertaintyPercent: Type.Optional(
          plain({
            minimum: 0,
            maximum: 50,
            description: 'Uncertainty of the head’s own reading, 95 % [%]; left out: 2.',
          }),
        ),
        readingUncertainty: Type.Optional(
          ref(SetSpeedIn, 'Uncertainty of reading its needle, 95 %; left out: 1 km/h.'),
        ),
      },
      {
        ...closed,
        description: 'The old head: its constant, its own uncertainty, and that of reading its needle.',
      },
    ),
    motor: Type.Optional(
      Type.Object(
        {
          step: Type.Optional(ref(RotationalSpeedIn, 'Smallest step of the motor speed; left out: 1 rpm.')),
          lowest: Type.Optional(
            ref(RotationalSpeedIn, 'Lowest speed at which the motor runs smoothly; left out: 30 rpm.'),
          ),
          lag: Type.Optional(ref(ShortTimeIn, 'Time constant of the motor; left out: 0.2 s.')),
          update: Type.Optional(
            ref(ShortTimeIn, 'Time between two commands to the motor; left out: 0.05 s.'),
          ),
        },
        {
          ...closed,
          description: 'The motor; what is left out has the default of its field.',
        },
      ),
    ),
  },
  { ...closed, title: 'motor-driven old head' },
)

export const PickUpOption = named(
  'PickUpOption',
  Type.Union(
    [
      ShaftRingOption,
      PropellerShaftOption,
      GearboxOption,
      MagneticSensorOption,
      SatelliteOption,
      DrivenHeadOption,
    ],
    { description: 'A way to pick up the speed, selected by kind.' },
  ),
)

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

const standing = choice(['published', 'from-memory', 'common-practice', 'derived', 'user', 'measured'], {
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
      table: Type.Array(ref(PickUpRow), {
        maxItems: 20,
        description: 'One row for each speed of the request.',
      }),
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
      risks: Type.Array(ref(Note), { maxItems: 10, description: 'What can go wrong.' }),
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
    options: Type.Array(ref(PickUpResult), {
      maxItems: 12,
      description: 'Results, in the order of the request.',
    }),
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
