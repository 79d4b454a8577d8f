import { Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { Head, Stage } from './drive-stages.js'
import { RuleIn } from './gauges.js'
import { measureIn } from './measure-shapes.js'
import { DistanceIn, Frequency, PerDistance, Ratio, RotationalSpeed, Speed, SpeedIn } from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { choice, count, plain, plainOut } from './plain-values.js'
import { Tire } from './tires.js'

export const BenchRotationalSpeedIn = measureIn('BenchRotationalSpeedIn', 'rotational-speed', {
  min: 1 / 60,
  max: 2000,
  description: 'A rate of turning.',
})

const direction = (description: string) => choice(['clockwise', 'counterclockwise'], { description })

const CABLE_HEAD = { input: 'turns', constant: { perMile: 1000 }, unit: 'mph', dialMax: { mph: 90 } }

export const BenchTableRequest = named(
  'BenchTableRequest',
  Type.Object(
    {
      head: ref(Head, 'The head on the bench.'),
      speeds: Type.Optional(
        Type.Array(ref(SpeedIn, undefined, 'mark of the dial'), {
          minItems: 1,
          maxItems: 200,
          description:
            'Marks of the dial. Left out, with rpms left out too: every 10 mph or 10 km/h up to dialMax, or up to 60 mph without dialMax.',
        }),
      ),
      rpms: Type.Optional(
        Type.Array(ref(BenchRotationalSpeedIn, undefined, 'rate of turning'), {
          minItems: 1,
          maxItems: 200,
          description: 'Rates of turning of the cable, for a head that takes turns. Left out: none.',
        }),
      ),
      rules: Type.Optional(
        Type.Array(ref(RuleIn), {
          minItems: 1,
          maxItems: 10,
          description:
            'Rules for the tolerance at each mark. Left out: us-army-bench-1944, interpolated linearly between its points.',
        }),
      ),
      drill: Type.Optional(
        Type.Object(
          { topSpeed: ref(BenchRotationalSpeedIn, 'Highest speed of the drill.', 'top speed of the drill') },
          {
            additionalProperties: false,
            description:
              'The drill that drives the head. Left out: the answer does not say which speeds it reaches.',
          },
        ),
      ),
      headTurns: Type.Optional(
        direction(
          'Direction in which the car turns the head, seen along the cable toward the head. Left out: not known.',
        ),
      ),
      outerLayer: Type.Optional(
        choice(['left-hand', 'right-hand'], {
          description:
            'Lay of the outermost layer of wire of the flexible shaft: right-hand like an ordinary screw thread. Left out: not known.',
        }),
      ),
    },
    {
      additionalProperties: false,
      examples: [
        {
          head: CABLE_HEAD,
          speeds: [{ mph: 10 }, { mph: 30 }, { mph: 60 }],
          drill: { topSpeed: { rpm: 750 } },
          headTurns: 'counterclockwise',
          outerLayer: 'left-hand',
        },
        { head: CABLE_HEAD, rpms: [{ rpm: 500 }, { rpm: 1000 }] },
        { head: { input: 'pulses', constant: { perKm: 4000 }, unit: 'kmh', dialMax: { kmh: 160 } } },
      ],
    },
  ),
)

const Tolerance = Type.Object(
  {
    rule: Type.String({ description: 'Id of the rule, or custom.' }),
    title: Type.String({ description: 'The rule.' }),
    basis: choice(['rule', 'between-points'], {
      description: 'Whether the rule sets the limits, or interpolation between two of its points.',
    }),
    lower: Type.Optional(ref(Speed, 'Lowest speed that the dial may show; absent: no lower limit.')),
    upper: Type.Optional(ref(Speed, 'Highest speed that the dial may show; absent: no upper limit.')),
  },
  {
    additionalProperties: false,
    description: 'Tolerance of the reading; lower or upper absent: no limit on that side.',
  },
)

export const BenchRow = shape(
  'BenchRow',
  'One speed: the rate at which to drive the head, what this head shows there, its own error included, and what it may show.',
  {
    speed: ref(Speed, 'Speed that the drive simulates.'),
    rpm: Type.Optional(
      ref(RotationalSpeed, 'Rotational speed of the shaft into the head; only for a head that takes turns.'),
    ),
    frequency: Type.Optional(
      ref(Frequency, 'Pulse frequency into the head; only for a head that takes pulses.'),
    ),
    shows: ref(Speed, 'Speed that the head shows, its own known error included.'),
    tolerances: Type.Array(Tolerance, {
      maxItems: 10,
      description: 'One for each rule that sets limits at this speed.',
    }),
    drillReaches: Type.Optional(Type.Boolean({ description: 'Whether the drill reaches this rate.' })),
  },
)

export const BenchTableAnswer = calculationAnswer('BenchTableAnswer', 'How to drive a head on the bench.', {
  rows: Type.Array(BenchRow, {
    maxItems: 400,
    description: 'One row for each speed, then one for each rate of turning.',
  }),
  turn: Type.Optional(direction('Direction in which to turn, seen from behind the drill.')),
  shaftTightens: Type.Optional(
    direction('Direction that tightens the flexible shaft, seen from behind the driven end.'),
  ),
  drillReaches: Type.Optional(
    ref(Speed, 'Highest speed that the drill reaches on this head; absent without a drill.'),
  ),
})

export const CountCheckRequest = named(
  'CountCheckRequest',
  Type.Object(
    {
      cableTurns: plain({
        minimum: 0.01,
        maximum: 1_000_000,
        description: 'Turns of the cable counted over the distance, parts of a turn included.',
      }),
      repeats: Type.Optional(
        Type.Array(plain({ minimum: 0.01, maximum: 1_000_000, description: 'Turns counted again.' }), {
          maxItems: 100,
          description: 'Further counts over the same distance. Left out: none.',
        }),
      ),
      distance: Type.Optional(
        ref(
          DistanceIn,
          'Distance over which the turns were counted; left out: 1/100 mile, 52 ft 9.6 in.',
          'distance rolled',
        ),
      ),
      resolution: Type.Optional(
        plain({
          minimum: 0.001,
          maximum: 10,
          description:
            'Resolution of the reading: the smallest part of a turn that was read [turns]. Left out: 0.25.',
        }),
      ),
      tire: Type.Optional(
        ref(Tire, 'The tire on the driven wheels; left out: the count is compared with no path.'),
      ),
      stages: Type.Optional(
        listOf(
          Stage,
          20,
          'Stages from wheel to cable that carry turns, with the ratios as stated. Left out: none.',
        ),
      ),
      head: Type.Optional(ref(Head, 'The head that the cable drives; left out: no odometerPerTrue.')),
    },
    {
      additionalProperties: false,
      description:
        'distance left out: 1/100 mile, 52 ft 9.6 in. tire left out: no comparison. head left out: no odometerPerTrue.',
      examples: [
        {
          cableTurns: 9.75,
          repeats: [9.75, 10, 9.75],
          distance: { ft: 52.8, plusMinus: 0.05 },
          tire: { turns: { perMile: 760, plusMinus: 8 } },
          stages: [
            { kind: 'final-drive', ratio: 3.7 },
            { kind: 'gear-pair', name: 'speedometer drive', teeth: { driving: 7, driven: 20 } },
          ],
          head: CABLE_HEAD,
        },
        { cableTurns: 98.5, distance: { mi: 0.1 }, resolution: 0.5 },
      ],
    },
  ),
)

const Suspect = shape('Suspect', 'The ratio of a stage if it alone explains the count.', {
  pointer: Type.String({ description: 'The stage in the request, as a JSON Pointer.' }),
  name: Type.String({ description: 'Name of the stage.' }),
  ratio: plainOut('Ratio as stated.'),
  ratioImplied: ref(Ratio, 'Ratio of the stage that would explain the count if it alone were wrong.'),
  drivenImplied: Type.Optional(
    count({
      minimum: 1,
      maximum: 1_000_000,
      description:
        'Teeth of the driven gear that explain the count, where a whole number lies within the uncertainty.',
    }),
  ),
})

export const CountCheckAnswer = calculationAnswer('CountCheckAnswer', 'Turns of a cable over a distance.', {
  counted: Type.Object(
    {
      turns: plainOut('Mean count.'),
      plusMinus: plainOut('Uncertainty of turns, 95 %.'),
      counts: count({ minimum: 1, maximum: 101, description: 'Number of counts.' }),
    },
    { additionalProperties: false, description: 'The count.' },
  ),
  turns: ref(PerDistance, 'Turns of the cable per distance, as counted.'),
  outliers: Type.Array(
    count({ minimum: 0, maximum: 100, description: 'Index of a count; 0 is cableTurns.' }),
    {
      maxItems: 101,
      description: 'Counts that are outliers.',
    },
  ),
  budget: listOf(BudgetLine, 10, 'Contributions to the uncertainty of turns.'),
  expected: Type.Optional(
    ref(PerDistance, 'Turns of the cable per distance that the path gives; absent without tire and stages.'),
  ),
  foundPerExpected: Type.Optional(
    ref(Ratio, 'Turns counted over turns expected; absent without tire and stages.'),
  ),
  agreement: Type.Optional(
    choice(['agrees', 'differs', 'not-proven'], {
      description:
        'Whether count and path agree within their uncertainty; not-proven when the uncertainty exceeds 5 %.',
    }),
  ),
  ratioFound: Type.Optional(
    ref(Ratio, 'Turns of the cable per wheel turn, as counted; absent without a tire.'),
  ),
  suspects: Type.Optional(listOf(Suspect, 20, 'One for each stage, when count and path differ.')),
  odometerPerTrue: Type.Optional(
    ref(
      Ratio,
      'Distance by the odometer over true distance, by the count: above 1 it over-reads. Absent without a head.',
    ),
  ),
})
