import { type Static, Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { choice, count, Length, measureIn, named, PerDistanceIn, plain, ref } from './measures.js'
import { Id, Instant, Next, PAGE_QUERY, Version } from './stored.js'
import { lineText, longText } from './texts.js'

export const PartLengthIn = measureIn('PartLengthIn', 'length', {
  min: 0.0001,
  max: 2,
  description: 'A dimension of a part.',
})

const Bolts = count({ minimum: 2, maximum: 24, description: 'Number of holes or studs, evenly spaced.' })

const MateGender = choice(['female', 'male'], {
  description: 'male goes into female: a plug, stud, spigot or shaft into a socket, hole, recess or bore.',
})

/** Where a part meets another. */
export const Interface = named(
  'Interface',
  Type.Union(
    [
      Type.Object(
        {
          kind: choice(['bolt-circle'], { description: 'Holes or studs on a circle.' }),
          bolts: Bolts,
          circleDiameter: ref(
            PartLengthIn,
            'Diameter of the circle through the centers of the holes or studs.',
            'circle diameter',
          ),
          boltHole: Type.Optional(
            ref(PartLengthIn, 'Diameter of a hole, or of a stud; left out: not compared.', 'bolt hole'),
          ),
          bore: Type.Optional(
            ref(
              PartLengthIn,
              'Diameter of the central hole, or of the spigot; left out: not compared.',
              'bore',
            ),
          ),
          gender: Type.Optional(MateGender),
        },
        { additionalProperties: false, title: 'bolt circle; bore is the hole or spigot in its middle' },
      ),
      Type.Object(
        {
          kind: choice(['shaft'], { description: 'A driving end, or the socket that takes one.' }),
          form: choice(['square', 'blade', 'round', 'spline'], { description: 'Shape of its section.' }),
          size: ref(
            PartLengthIn,
            'Across the flats of a square, width of a blade, (major) diameter of a round end or spline.',
            'size',
          ),
          teeth: Type.Optional(
            count({ minimum: 3, maximum: 200, description: 'Teeth of a spline; no other form has them.' }),
          ),
          gender: MateGender,
        },
        {
          additionalProperties: false,
          title: 'shaft end; size is across the flats, the width of the blade, or the (major) diameter',
        },
      ),
      Type.Object(
        {
          kind: choice(['thread'], { description: 'A screw thread.' }),
          designation: lineText(
            40,
            'Diameter and pitch, M18x1.5, or diameter and threads per inch, 7/8-18; LH for a left-hand thread.',
            { examples: ['M18x1.5', '7/8-18', '5/8-18 UNF'] },
          ),
          gender: MateGender,
        },
        { additionalProperties: false, title: 'thread' },
      ),
      Type.Object(
        {
          kind: choice(['bore'], { description: 'A plain round hole.' }),
          diameter: ref(PartLengthIn, 'Diameter of the hole.', 'diameter'),
        },
        { additionalProperties: false, title: 'bore' },
      ),
      Type.Object(
        {
          kind: choice(['flange'], { description: 'A plain round flange.' }),
          diameter: ref(PartLengthIn, 'Outside diameter of the flange.', 'diameter'),
          spigotDiameter: Type.Optional(
            ref(
              PartLengthIn,
              'Diameter of the spigot or recess that centers it; left out: not compared.',
              'spigot diameter',
            ),
          ),
          thickness: Type.Optional(
            ref(PartLengthIn, 'Thickness of the flange; left out: not compared.', 'thickness'),
          ),
          gender: Type.Optional(MateGender),
        },
        { additionalProperties: false, title: 'flange, centered by its spigot (male) or recess (female)' },
      ),
    ],
    { description: 'Where a part meets another.' },
  ),
)

export const PartKindChoice = choice(
  [
    'driving-gear',
    'driven-gear',
    'adapter',
    'angle-drive',
    'cable',
    'head',
    'pulse-ring',
    'pick-up',
    'pulse-scaler',
    'adapter-plate',
    'coupling',
    'hub',
    'flange',
    'other',
  ],
  { description: 'What the part is.' },
)

export const MAX_INTERFACES = 8

const partFields = {
  kind: PartKindChoice,
  name: lineText(200, 'Name of the part.', { examples: ['Driven gear, 21 teeth'] }),
  maker: Type.Optional(lineText(100, 'Who made it.')),
  number: Type.Optional(lineText(100, 'Part number, as on the part or in the list of its maker.')),
  interfaces: Type.Array(ref(Interface), {
    maxItems: MAX_INTERFACES,
    description: 'Where it meets other parts; empty when nobody has measured it.',
  }),
  teeth: Type.Optional(count({ minimum: 1, maximum: 500, description: 'Teeth of a gear.' })),
  ratio: Type.Optional(
    plain({
      minimum: 0.01,
      maximum: 100,
      description:
        'Output turns per input turn of an adapter or angle drive; pulses out per pulse in of a scaler.',
    }),
  ),
  pulsesPerTurn: Type.Optional(
    count({ minimum: 1, maximum: 10_000, description: 'Pulses per turn of a ring or pick-up.' }),
  ),
  input: Type.Optional(choice(['turns', 'pulses'], { description: 'What a head counts.' })),
  constant: Type.Optional(
    ref(
      PerDistanceIn,
      'Turns or pulses per distance at which a head reads true.',
      'part: constant of {name}',
    ),
  ),
  notes: Type.Optional(longText(4000, 'Anything else worth knowing.')),
}

/** A part as a user describes it. */
export const PartInput = named(
  'PartInput',
  Type.Object(partFields, {
    additionalProperties: false,
    description: 'A part.',
    examples: [
      {
        kind: 'driven-gear',
        name: 'Driven gear, 21 teeth',
        maker: 'Quillfeather Gear Works',
        number: 'QG-21-N',
        teeth: 21,
        interfaces: [
          { kind: 'shaft', form: 'round', size: { mm: 11.1, plusMinus: 0.05 }, gender: 'male' },
          { kind: 'thread', designation: '7/8-18', gender: 'male' },
        ],
      },
      {
        kind: 'adapter-plate',
        name: 'Plate for a pulse ring, four bolts',
        interfaces: [
          {
            kind: 'bolt-circle',
            bolts: 4,
            circleDiameter: { mm: 78 },
            boltHole: { mm: 8.5 },
            bore: { mm: 50 },
          },
        ],
        notes: 'Cut from 4 mm steel.\nCheck the run-out.',
      },
    ],
  }),
)

const { kind, name, teeth, ratio, pulsesPerTurn, input, constant } = partFields

/** What a part is to the path of a vehicle, where it meets others left aside. */
export const PathPart = Type.Object({ kind, name, teeth, ratio, pulsesPerTurn, input, constant })

export type PartShape = Static<typeof PartInput>
export type InterfaceShape = Static<typeof Interface>

/** What every shared thing carries beside its content. */
export const shared = {
  id: Id,
  version: Version,
  createdAt: Instant('When it was recorded'),
  changedAt: Instant('When this version was made'),
  recordedBy: Type.String({ description: 'Account that recorded it.' }),
}

export const SavedPart = named(
  'SavedPart',
  Type.Object(
    { ...shared, ...partFields },
    { additionalProperties: false, description: 'A stored part, as given.' },
  ),
)

export const SavedPartList = named(
  'SavedPartList',
  Type.Object(
    {
      parts: Type.Array(ref(SavedPart), {
        maxItems: 200,
        description: 'In the order of recording; by circle diameter in a search by bolt circle.',
      }),
      next: Next,
    },
    { additionalProperties: false, description: 'A page of parts.' },
  ),
)

const change = (field: string) =>
  Type.Optional(
    Type.Unsafe<unknown>({ description: `Change of ${field}; null takes it away where it is optional.` }),
  )

export const PartPatch = named(
  'PartPatch',
  Type.Object(Object.fromEntries(Object.keys(partFields).map((field) => [field, change(field)])), {
    additionalProperties: false,
    minProperties: 1,
    description:
      'A merge patch (RFC 7396): null takes a field away, an object is merged, a list or value replaces. The result must be a whole part.',
    examples: [{ teeth: 22, notes: null }],
  }),
)

/** Largest deviation of a dimension that a search allows, where the caller gives none [mm]. */
export const DEFAULT_TOLERANCE_MM = 0.5

/** Candidates in an answer, where the caller asks for no number. */
export const DEFAULT_CANDIDATES = 50

const tolerance = (what: string) =>
  Type.Optional(
    Type.Number({
      minimum: 0,
      maximum: 10,
      default: DEFAULT_TOLERANCE_MM,
      'x-unit': 'mm',
      description: `${what} [millimeter].`,
    }),
  )

export const PartListQuery = Type.Object(
  {
    ...PAGE_QUERY,
    kind: Type.Optional(PartKindChoice),
    maker: Type.Optional(lineText(100, 'Only of this maker, in any case.')),
    text: Type.Optional(
      lineText(
        200,
        'Words that must all stand in name, maker, number or notes; endings and accents do not matter.',
      ),
    ),
    bolts: Type.Optional(
      count({
        minimum: 2,
        maximum: 24,
        description: 'Only with a bolt circle of so many bolts; circleDiameter too.',
      }),
    ),
    circleDiameter: Type.Optional(
      Type.Number({
        minimum: 0.1,
        maximum: 2000,
        'x-unit': 'mm',
        description: 'Only with a bolt circle of this diameter [millimeter]; bolts too.',
      }),
    ),
    tolerance: tolerance('How far the circle diameter may be off'),
  },
  { additionalProperties: false },
)

export const PartRevisionQuery = Type.Object(PAGE_QUERY, { additionalProperties: false })

export const PartRevisionList = named(
  'PartRevisionList',
  Type.Object(
    {
      revisions: Type.Array(
        Type.Object(
          {
            version: Version,
            change: choice(['created', 'replaced', 'deleted'], { description: 'What was done.' }),
            at: Instant('When'),
            changedBy: Type.String({ description: 'Account that did it.' }),
            part: Type.Optional(ref(PartInput, 'The part after this change; absent when it was deleted.')),
          },
          { additionalProperties: false },
        ),
        { maxItems: 200, description: 'Newest first; part is the part after the change.' },
      ),
      next: Next,
    },
    { additionalProperties: false, description: 'A page of the revisions of a part.' },
  ),
)

export const CandidateQuery = Type.Object(
  {
    tolerance: tolerance('Largest deviation of a dimension'),
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

export const PartSummary = named(
  'PartSummary',
  Type.Object(
    {
      id: Id,
      kind: PartKindChoice,
      name: Type.String({ description: 'Name of the part.' }),
      maker: Type.Optional(Type.String({ description: 'Who made it.' })),
      number: Type.Optional(Type.String({ description: 'Part number.' })),
    },
    { additionalProperties: false, description: 'A part in brief.' },
  ),
)

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

export const InterfacePair = named(
  'InterfacePair',
  Type.Object(
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
    {
      additionalProperties: false,
      description:
        'An interface of this part and one of the candidate that mate or match within the tolerance.',
    },
  ),
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
          interfacePairs: Type.Array(ref(InterfacePair), {
            maxItems: MAX_INTERFACES,
            description:
              'For each interface of this part that mates with or matches one of the candidate: the closest pair.',
          }),
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
  budget: Type.Array(ref(BudgetLine), {
    maxItems: 10,
    description: 'What the uncertainty comes from, largest first.',
  }),
})
