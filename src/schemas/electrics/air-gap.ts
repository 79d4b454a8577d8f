import { Type } from '@sinclair/typebox'
import { calculationAnswer } from '../answers.js'
import { assumptions } from '../assumptions.js'
import { Length, Ratio } from '../measures.js'
import { closed, named, ref } from '../named-shapes.js'
import { choice, count } from '../plain-values.js'
import { GapLimitIn, RingLengthIn, SmallLengthIn } from './quantities.js'
import { budget, Conformity, probability } from './verdicts.js'

const ringParts = {
  teeth: count({ minimum: 1, maximum: 1000, description: 'Teeth, or pairs of magnets, of the ring.' }),
  toothWidth: Type.Optional(
    ref(SmallLengthIn, 'Width of a tooth at its tip; left out: not checked.', 'ring: tooth width'),
  ),
  toothDepth: Type.Optional(
    ref(SmallLengthIn, 'Depth of the gap between teeth; left out: not checked.', 'ring: tooth depth'),
  ),
}

export const RingShape = named(
  'RingShape',
  Type.Union(
    [
      Type.Object(
        {
          ...ringParts,
          outsideDiameter: ref(RingLengthIn, 'Outside diameter of the ring.', 'ring: outside diameter'),
        },
        { ...closed, title: 'by its outside diameter' },
      ),
      Type.Object(
        { ...ringParts, module: ref(RingLengthIn, 'Module of the ring: pitch over pi.', 'ring: module') },
        { ...closed, title: 'by its module' },
      ),
    ],
    { description: 'A pulse ring: give exactly one of outsideDiameter, module.' },
  ),
)

export const AirGapRequest = named(
  'AirGapRequest',
  Type.Object(
    {
      sensor: choice(['active', 'variable-reluctance'], {
        description: 'active: a sensor with electronics of its own; variable-reluctance: a coil and magnet.',
      }),
      gap: ref(
        SmallLengthIn,
        'Air gap, measured or planned at any one place of the ring, with the shaft at one end of its play.',
        'air gap',
      ),
      ring: ref(RingShape, 'The pulse ring.'),
      runOut: Type.Optional(
        ref(
          SmallLengthIn,
          'Run-out of the ring: total reading of a dial gauge over one turn; left out: 0.',
          'run-out',
        ),
      ),
      play: Type.Optional(
        ref(SmallLengthIn, 'Total play of the shaft toward the sensor; left out: 0.', 'play'),
      ),
      limits: Type.Optional(
        Type.Object(
          {
            min: Type.Optional(ref(GapLimitIn, 'Smallest gap by the data sheet; left out: 0.2 mm.')),
            max: Type.Optional(ref(GapLimitIn, 'Largest gap by the data sheet; left out: 1.5 mm.')),
          },
          { ...closed, description: 'Limits of the gap from the data sheet of the sensor.' },
        ),
      ),
    },
    {
      ...closed,
      description:
        'Air gap of a pick-up over its ring. gap: at any one place of the ring; run-out and play tell how far it may be off the mean.',
      examples: [
        {
          sensor: 'active',
          gap: { mm: 0.8, plusMinus: 0.1 },
          ring: { teeth: 40, outsideDiameter: { mm: 100 }, toothWidth: { mm: 3.9, plusMinus: 0.1 } },
          runOut: { mm: 0.15, plusMinus: 0.03 },
        },
        {
          sensor: 'variable-reluctance',
          gap: { mm: 0.5 },
          ring: { teeth: 16, module: { mm: 4 } },
          runOut: { mm: 0.1 },
          play: { mm: 0.05 },
          limits: { min: { mm: 0.3 }, max: { mm: 1 } },
        },
      ],
    },
  ),
)

export const AirGapAnswer = calculationAnswer('AirGapAnswer', 'Air gap and ring of a pick-up.', {
  module: ref(Length, 'Module of the ring: pitch over pi.'),
  pitch: ref(Length, 'Distance from tooth to tooth along the circumference.'),
  diameter: ref(Length, 'Outside diameter of the ring.'),
  smallestGap: ref(Length, 'Smallest gap: the mean less half of run-out and play.'),
  largestGap: ref(Length, 'Largest gap: the mean plus half of run-out and play.'),
  amplitudeModulationPercent: ref(Ratio, 'Largest over smallest amplitude in a turn, less one [%].'),
  oncePerTurnErrorPercent: ref(Ratio, 'Amplitude of the once-per-turn error of speed, from run-out [%].'),
  checks: Type.Array(
    Type.Object(
      {
        kind: choice(
          ['clear-of-ring', 'min-gap', 'max-gap', 'gap-over-module', 'tooth-share', 'tooth-depth', 'run-out'],
          { description: 'What is checked.' },
        ),
        text: Type.String({ description: 'What holds if it conforms.' }),
        probability,
        result: Conformity,
      },
      closed,
    ),
    { maxItems: 10, description: 'Whether sensor and ring suit each other.' },
  ),
  budget,
  assumptions,
  toothSharePercent: Type.Optional(ref(Ratio, 'Tooth width over pitch [%]; absent without toothWidth.')),
})
