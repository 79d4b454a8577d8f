import { Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { Length } from './measures.js'
import { listOf, named, ref } from './named-shapes.js'
import { Bolts, PartLengthIn } from './part-interfaces.js'
import { count } from './plain-values.js'

const Steps = Type.Optional(
  count({
    minimum: 1,
    maximum: 12,
    description:
      'How many holes on the second one is: 1 for neighbors; at most half the number of bolts. Left out: 1.',
  }),
)

export const BoltCircleRequest = named(
  'BoltCircleRequest',
  Type.Union(
    [
      Type.Object(
        {
          bolts: Bolts,
          steps: Steps,
          chord: ref(PartLengthIn, 'Distance between the centers of the two holes.', 'chord'),
        },
        { additionalProperties: false, title: 'from the distance of two hole centers' },
      ),
      Type.Object(
        {
          bolts: Bolts,
          steps: Steps,
          nearEdges: ref(PartLengthIn, 'Distance between the near edges of the two holes.', 'near edges'),
          farEdges: ref(PartLengthIn, 'Distance between the far edges of the two holes.', 'far edges'),
        },
        {
          additionalProperties: false,
          title: 'from what a caliper reaches: between two holes, and over them',
        },
      ),
    ],
    {
      description: 'A bolt circle, by what can be measured between two of its holes.',
      examples: [
        { bolts: 5, chord: { mm: 67.2, plusMinus: 0.1 } },
        { bolts: 4, nearEdges: { mm: 62.1, plusMinus: 0.1 }, farEdges: { mm: 79.3, plusMinus: 0.1 } },
      ],
    },
  ),
)

export const BoltCircleAnswer = calculationAnswer('BoltCircleAnswer', 'The circle through the holes.', {
  circleDiameter: ref(Length, 'Diameter of the circle through the centers of the holes.'),
  chord: ref(Length, 'Distance between the centers of the two holes.'),
  boltHole: Type.Optional(ref(Length, 'Diameter of a hole; absent when the chord was given.')),
  budget: listOf(BudgetLine, 10, 'What the uncertainty comes from, largest first.'),
})
