import { type Static, Type } from '@sinclair/typebox'
import { PerDistanceIn } from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { Interface, toleranceField } from './part-interfaces.js'
import { choice, count, plain } from './plain-values.js'
import { Id, Instant, Next, PAGE_QUERY, Version } from './stored.js'
import { lineText, longText } from './texts.js'

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
  interfaces: listOf(
    Interface,
    MAX_INTERFACES,
    'Where it meets other parts; empty when nobody has measured it.',
  ),
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

/** What every shared thing carries beside its content. */
export const shared = {
  id: Id,
  version: Version,
  createdAt: Instant('When it was recorded'),
  changedAt: Instant('When this version was made'),
  recordedBy: Type.String({ description: 'Account that recorded it.' }),
}

export const SavedPart = shape('SavedPart', 'A stored part, as given.', { ...shared, ...partFields })

export const SavedPartList = shape('SavedPartList', 'A page of parts.', {
  parts: listOf(SavedPart, 200, 'In the order of recording; by circle diameter in a search by bolt circle.'),
  next: Next,
})

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
    tolerance: toleranceField('How far the circle diameter may be off'),
  },
  { additionalProperties: false },
)

export const PartRevisionQuery = Type.Object(PAGE_QUERY, { additionalProperties: false })

export const PartRevisionList = shape('PartRevisionList', 'A page of the revisions of a part.', {
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
})
