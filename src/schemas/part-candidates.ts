import { Type } from '@sinclair/typebox'
import { calculationAnswer } from './answers.js'
import { Length } from './measures.js'
import { listOf, ref, shape } from './named-shapes.js'
import { toleranceField } from './part-interfaces.js'
import { MAX_INTERFACES, PartKindChoice } from './parts.js'
import { choice, count } from './plain-values.js'
import { Id } from './stored.js'

/** Candidates in an answer, where the caller asks for no number. */
export const DEFAULT_CANDIDATES = 50

export const CandidateQuery = Type.Object(
  {
    tolerance: toleranceField('Largest deviation of a dimension'),
    limit: Type.Optional(
      count({
        minimum: 1,
        maximum: 200,
        default: DEFAULT_CANDIDATES,
        description: 'Maximum number of candidates.',
      }),
    ),
  },
  { additionalProperties: false },
)

export const PartSummary = shape('PartSummary', 'A part in brief.', {
  id: Id,
  kind: PartKindChoice,
  name: Type.String({ description: 'Name of the part.' }),
  maker: Type.Optional(Type.String({ description: 'Who made it.' })),
  number: Type.Optional(Type.String({ description: 'Part number.' })),
})

const DimensionName = choice(
  [
    'circle-diameter',
    'bolt-hole',
    'bore',
    'size',
    'major-diameter',
    'pitch',
    'diameter',
    'spigot-diameter',
    'thickness',
  ],
  { description: 'The dimension.' },
)

export const InterfacePair = shape(
  'InterfacePair',
  'An interface of this part and one of the candidate that mate or match within the tolerance.',
  {
    thisInterface: Type.Integer({
      description: 'Place of the interface in the list of this part, from 0.',
      'x-dimensionless': true,
    }),
    otherInterface: Type.Integer({
      description: 'Place of the interface in the list of the candidate, from 0.',
      'x-dimensionless': true,
    }),
    relation: choice(['mates', 'matches'], {
      description:
        'mates: one goes into the other. matches: alike, so the one may stand in the place of the other.',
    }),
    compared: Type.Array(
      Type.Object(
        {
          dimension: DimensionName,
          this: ref(Length, 'Dimension of this part.'),
          other: ref(Length, 'Dimension of the candidate.'),
          deviation: ref(Length, 'Clearance or interference where they mate, difference where they match.'),
        },
        {
          additionalProperties: false,
          description:
            'deviation of mates: female less male, below zero is interference; of matches: the other less this; of a pitch: over 5 turns.',
        },
      ),
      { maxItems: 10, description: 'Dimensions that were compared, and their deviations.' },
    ),
    notCompared: Type.Array(DimensionName, {
      maxItems: 10,
      description: 'Dimensions that only one of the two parts gives.',
    }),
    sharedBolts: Type.Optional(
      count({ minimum: 2, maximum: 24, description: 'Bolts that both circles take.' }),
    ),
    largestBolt: Type.Optional(
      ref(Length, 'Largest bolt that passes both circles of holes; absent unless both give boltHole.'),
    ),
  },
)

export const CandidateAnswer = calculationAnswer(
  'CandidateAnswer',
  'Parts that may fit: each a candidate, not proven.',
  {
    tolerance: ref(Length, 'Largest deviation that was allowed.'),
    candidates: Type.Array(
      Type.Object(
        {
          part: ref(PartSummary, 'The candidate.'),
          standing: choice(['candidate-not-proven'], { description: 'Dimensions alone prove no fit.' }),
          interfacePairs: listOf(
            InterfacePair,
            MAX_INTERFACES,
            'For each interface of this part that mates with or matches one of the candidate: the closest pair.',
          ),
          worstDeviation: ref(Length, 'Largest deviation of any dimension compared.'),
        },
        { additionalProperties: false },
      ),
      { maxItems: 200, description: 'Most interface pairs first, then the smallest worst deviation.' },
    ),
    complete: Type.Boolean({
      description:
        'Whether these are all. False: only the nearest were ranked; give a smaller tolerance or a larger limit.',
    }),
  },
)
