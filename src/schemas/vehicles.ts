import { type Static, Type } from '@sinclair/typebox'
import { Head, Stage } from './drive-stages.js'
import { Filter } from './filters.js'
import { RuleIn } from './gauges.js'
import {
  CorrelationIn,
  PerDistanceIn,
  RatioIn,
  SetPerDistanceIn,
  SetSpeedIn,
  SetTimeIn,
  SpeedDifferenceIn,
} from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { choice, count, plain } from './plain-values.js'
import { RemedyCosts } from './remedies.js'
import { lineText, longText } from './texts.js'
import { Tire } from './tires.js'

/** How pulses become a reading. */
export const PulseTiming = shape(
  'PulseTiming',
  'Timing of an electronic reading: after zeroTimeout without a pulse it shows zero; timerTick is the step of its timer; filter smooths it.',
  {
    zeroTimeout: Type.Optional(
      ref(SetTimeIn, 'Time without a pulse after which zero is shown; left out: no lowestSpeedShown.'),
    ),
    timerTick: Type.Optional(
      ref(
        SetTimeIn,
        'Time of one tick of the timer that measures pulse periods; left out: no resolutionAtTopSpeed.',
      ),
    ),
    filter: Type.Optional(ref(Filter, 'Filter of the readings; left out: none.')),
  },
)

/** What was to be expected when something was measured. */
const ComputedPath = shape(
  'ComputedPath',
  'Output and reading computed from tire, stages and head at the time of the measurement. If they now differ by more than 0.1 %, a tire, gear or head was changed since: the measurement is not used, and a finding says so. Applying a calibration sets this; usually you need not.',
  {
    output: Type.Optional(
      ref(
        SetPerDistanceIn,
        'Output of the path as computed then; left out: a later change is not noticed by the output.',
      ),
    ),
    indicatedPerTrue: Type.Optional(
      plain({ minimum: 0.001, maximum: 10_000, description: 'Indicated per true speed.' }),
    ),
  },
)

/** What was measured on this car and takes the place of what is computed from its parts. */
export const MeasuredPath = shape(
  'MeasuredPath',
  'Measured on this car. output (turns or pulses counted over a known distance) replaces what tire and stages give; indicatedPerTrue and offset (from a calibration) replace the whole computed reading, with the error of the head: without offset the reading has none.',
  {
    output: Type.Optional(
      ref(
        PerDistanceIn,
        'Turns or pulses per distance of the path, counted over a known distance; replaces what tire and stages give. Left out: computed from them.',
        '{name}: measured output',
      ),
    ),
    indicatedPerTrue: Type.Optional(
      ref(
        RatioIn,
        'Indicated over true speed, from a calibration on the road; replaces the whole computed reading. Left out: computed.',
        '{name}: measured indicatedPerTrue',
      ),
    ),
    offset: Type.Optional(
      ref(
        SpeedDifferenceIn,
        'Constant error from the same calibration; counts beside indicatedPerTrue only. Left out: none.',
        '{name}: measured offset',
      ),
    ),
    correlation: Type.Optional(CorrelationIn),
    computed: Type.Optional(
      ref(
        ComputedPath,
        'What tire, stages and head computed to when it was measured; left out: a later change of one of them is not noticed.',
      ),
    ),
  },
)

export const VehiclePath = shape('VehiclePath', 'One drive path of a vehicle, from an axle to a dial.', {
  name: lineText(80, 'Name of the path, for example speedometer; unique in the vehicle.'),
  axle: choice(['front', 'rear'], { description: 'Axle whose wheels drive it.' }),
  stages: listOf(Stage, 20, 'Stages from wheel to dial.'),
  head: ref(Head, 'The head at the end of the path.'),
  pulse: Type.Optional(
    ref(
      PulseTiming,
      'Timing of an electronic reading. Left out: no lowestSpeedShown and no resolutionAtTopSpeed.',
    ),
  ),
  measured: Type.Optional(
    ref(MeasuredPath, 'What was measured on this path; left out: everything is computed from its parts.'),
  ),
})

const EXAMPLE_CABLE = {
  reference: 'JOB-1042',
  name: 'Tarvenna Ostrel saloon, blue',
  make: 'Tarvenna',
  model: 'Ostrel',
  year: 1968,
  tires: { front: { size: '165R13' }, rear: { size: '175/70R13' } },
  paths: [
    {
      name: 'speedometer',
      axle: 'rear',
      stages: [
        { kind: 'final-drive', ring: 37, pinion: 9 },
        { kind: 'gear-pair', name: 'speedometer drive', teeth: { driving: 6, driven: 20 } },
      ],
      head: { input: 'turns', constant: { perMile: 1000 }, unit: 'mph', dialMax: { mph: 100 } },
    },
  ],
  rule: 'un-r39',
  topSpeed: { mph: 85 },
}

const PROFILE = {
  name: lineText(200, 'Name of the vehicle.'),
  tires: Type.Object(
    { front: ref(Tire, 'Tire on the front wheels.'), rear: ref(Tire, 'Tire on the rear wheels.') },
    { additionalProperties: false, description: 'The tires fitted.' },
  ),
  paths: Type.Array(ref(VehiclePath), {
    minItems: 1,
    maxItems: 8,
    description: 'Its drive paths, each from an axle to a dial: usually one, for the speedometer.',
  }),
  rule: ref(
    RuleIn,
    'The rule on accuracy that the vehicle is checked against; GET /v1/gauges/rules lists them.',
  ),
  reference: Type.Optional(
    lineText(100, 'Your own reference, for example the number of a job ticket; unique in the account.'),
  ),
  make: Type.Optional(lineText(80, 'Make.')),
  model: Type.Optional(lineText(80, 'Model.')),
  year: Type.Optional(count({ minimum: 1885, maximum: 2100, description: 'Year of manufacture.' })),
  topSpeed: Type.Optional(
    ref(
      SetSpeedIn,
      'Highest speed of the vehicle; ends the speeds that are judged. Left out: dialMax of the head, else 120 km/h.',
    ),
  ),
  speeds: Type.Optional(
    Type.Array(ref(SetSpeedIn), {
      minItems: 1,
      maxItems: 14,
      description:
        'True speeds of the tables, in this order; left out: the round ones of each dial up to topSpeed, else dialMax, else 120 km/h. The verdict covers every speed of the rule, and the remedies are based on the round ones, whatever is given.',
    }),
  ),
  costs: Type.Optional(ref(RemedyCosts, 'What remedies cost; left out: costs play no part in their order.')),
  notes: Type.Optional(longText(10_000, 'Notes.')),
}

/** A vehicle as a club or shop keeps it. */
export const VehicleProfile = named(
  'VehicleProfile',
  Type.Object(PROFILE, {
    additionalProperties: false,
    description: 'A vehicle: tires, drive paths, and the rule it is judged by.',
    examples: [EXAMPLE_CABLE, { ...EXAMPLE_CABLE, speeds: [{ mph: 30 }, { mph: 70 }] }],
  }),
)

export type VehicleProfileShape = Static<typeof VehicleProfile>
