import { Type } from '@sinclair/typebox'
import { VoltageIn } from './electrics/quantities.js'
import { measureIn } from './measure-shapes.js'
import { PerDistanceIn, RatioIn, SetSpeedIn, SpeedIn } from './measures.js'
import { closed, named, ref } from './named-shapes.js'
import { choice, count, plain } from './plain-values.js'
import { lineText } from './texts.js'

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
