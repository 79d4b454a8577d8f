import { type Static, Type } from '@sinclair/typebox'
import { calculationAnswer } from './answers.js'
import { choice, measureIn, named, plainOut, ref, Torque } from './measures.js'
import { lineText } from './texts.js'

export const DragTorqueIn = measureIn('DragTorqueIn', 'torque', {
  min: 0,
  max: 20,
  description: 'Torque to turn a part or several coupled parts, steadily, without load.',
})

const partName = (description: string) =>
  lineText(60, description, { examples: ['lower cable', 'angle drive', 'upper cable', 'head'] })

export const partKind = choice(
  ['wheel-drive', 'cable', 'angle-drive', 'counter', 'adapter', 'head', 'other'],
  {
    description: 'What sort of part it is: decides which causes come into question. Left out: other.',
  },
)

export const DragPartIn = named(
  'DragPartIn',
  Type.Union(
    [
      partName('Name of the part.'),
      Type.Object(
        {
          name: partName('Name of the part.'),
          kind: Type.Optional(partKind),
          usual: Type.Optional(
            ref(DragTorqueIn, 'Usual drag of such a part, to compare with; left out: not compared.'),
          ),
        },
        { additionalProperties: false, title: 'with its kind and the drag that is usual for it' },
      ),
    ],
    { description: 'A part: its name, or its name with its kind and the drag of such a part in good order.' },
  ),
)

export const CableDragRequest = named(
  'CableDragRequest',
  Type.Object(
    {
      parts: Type.Array(ref(DragPartIn), {
        minItems: 1,
        maxItems: 20,
        description: 'Parts, in the order in which they are coupled.',
      }),
      tests: Type.Array(
        Type.Object(
          {
            parts: Type.Array(partName('Name of a part in the test.'), {
              minItems: 1,
              maxItems: 20,
              description: 'Parts that turned together in this test.',
            }),
            torque: ref(DragTorqueIn, 'Torque that turns these parts.'),
            assembled: Type.Optional(
              Type.Boolean({
                description:
                  'The whole in place in the car, everything tightened. Left out: true when every part is in the test.',
              }),
            ),
          },
          { additionalProperties: false, description: 'One torque test.' },
        ),
        {
          minItems: 1,
          maxItems: 100,
          description:
            'Torque tests. A torque without plusMinus is taken as good to 10 % of the reading, and 2 % of the largest; none as good to less than 0.1 % of the largest, plusMinus 0 neither.',
        },
      ),
    },
    {
      additionalProperties: false,
      examples: [
        {
          parts: [
            { name: 'wheel drive', kind: 'wheel-drive' },
            { name: 'angle drive', kind: 'angle-drive' },
            { name: 'lower cable', kind: 'cable' },
            { name: 'counter', kind: 'counter' },
            { name: 'upper cable', kind: 'cable' },
            { name: 'head', kind: 'head', usual: { mNm: 4, plusMinus: 1 } },
          ],
          tests: [
            { parts: ['wheel drive'], torque: { mNm: 6, plusMinus: 0.6 } },
            { parts: ['angle drive'], torque: { mNm: 5, plusMinus: 0.6 } },
            { parts: ['lower cable'], torque: { mNm: 14, plusMinus: 1.2 } },
            { parts: ['counter'], torque: { mNm: 3, plusMinus: 0.6 } },
            { parts: ['upper cable'], torque: { mNm: 11, plusMinus: 1.2 } },
            { parts: ['head'], torque: { mNm: 4, plusMinus: 0.6 } },
            { parts: ['lower cable', 'counter'], torque: { mNm: 17.2, plusMinus: 1.2 } },
            {
              parts: ['wheel drive', 'angle drive', 'lower cable', 'counter', 'upper cable', 'head'],
              torque: { mNm: 96, plusMinus: 5 },
            },
          ],
        },
        {
          parts: ['cable', 'head'],
          tests: [{ parts: ['cable', 'head'], torque: { ozIn: 3.1 }, assembled: false }],
        },
      ],
    },
  ),
)

const sharePercent = plainOut('Share of the torque of the whole [%].')
const partNames = (description: string) => Type.Array(Type.String(), { maxItems: 21, description })

export const DragCause = named(
  'DragCause',
  Type.Object(
    {
      code: choice(
        [
          'misalignment',
          'tight-bend',
          'bend-at-joint',
          'core-thrust',
          'seat-closes-when-tightened',
          'wrong-hand-angle-drive',
          'dry-part',
          'kinked-core',
        ],
        { description: 'What may be behind it.' },
      ),
      text: Type.String({ description: 'The cause, for people.' }),
      check: Type.String({ description: 'What to do to tell it from the others.' }),
      standing: choice(['published', 'from-memory', 'common-practice', 'derived', 'user', 'measured'], {
        description: 'How well founded it is.',
      }),
    },
    { additionalProperties: false, description: 'A candidate cause of drag.' },
  ),
)

export const CableDragAnswer = calculationAnswer(
  'CableDragAnswer',
  'Drag of each part, what only the assembly shows, and what to test next.',
  {
    parts: Type.Array(
      Type.Object(
        {
          name: Type.String({ description: 'The part.' }),
          kind: partKind,
          determined: Type.Boolean({
            description: 'false: the tests do not tell its drag from that of others.',
          }),
          drag: Type.Optional(ref(Torque, 'Drag of the part; absent when it is not determined.')),
          sharePercent: Type.Optional(sharePercent),
        },
        { additionalProperties: false, description: 'Drag of one part.' },
      ),
      { maxItems: 20, description: 'Parts, in the order given.' },
    ),
    assembly: Type.Optional(
      Type.Object(
        {
          drag: ref(Torque, 'Drag that only the whole in place shows.'),
          found: Type.Boolean({ description: 'More than chance explains, at falseAlarmPercent.' }),
          chancePercent: plainOut('Probability of so large a term, or a larger one, when there is none [%].'),
          falseAlarmPercent: plainOut('Share of cases without such a term in which one is reported [%].'),
          detectionLimit: ref(Torque, 'Size of such a drag that is found 19 times in 20.'),
          elsewhere: Type.Optional(ref(Torque, 'What of it no joint shows; absent without joints.')),
          wholeMinusParts: Type.Optional(
            ref(
              Torque,
              'Torque of the whole less that of every part tested alone, as read; may be negative. Absent unless each was tested alone.',
            ),
          ),
          sharePercent: Type.Optional(sharePercent),
        },
        {
          additionalProperties: false,
          description:
            'What the whole in place takes and no part shows alone, its joints included; absent when the tests do not tell. detectionLimit: a term of this size is found 19 times in 20. elsewhere: what of it no joint shows, where there are joints. wholeMinusParts: the whole less every part one by one, as read, where each was tested alone; the drags never go below zero, this may.',
        },
      ),
    ),
    joints: Type.Array(
      Type.Object(
        { parts: partNames('Parts that meet.'), drag: ref(Torque, 'Drag beyond that of each part alone.') },
        {
          additionalProperties: false,
          description: 'What some parts take coupled loosely beyond each alone.',
        },
      ),
      {
        maxItems: 100,
        description: 'Joints that drag, the smallest first; each counts in every test that holds its parts.',
      },
    ),
    notDistinguishable: Type.Array(
      Type.Object(
        {
          names: partNames('Parts, or the assembly term, that the tests do not tell apart.'),
          neverTested: Type.Boolean({ description: 'One part, in no test.' }),
          together: Type.Optional(
            ref(Torque, 'Drag of all of them together; absent when that is not determined either.'),
          ),
        },
        { additionalProperties: false, description: 'A set whose members cannot be told apart.' },
      ),
      { maxItems: 21, description: 'What the tests leave open.' },
    ),
    tests: Type.Array(
      Type.Object(
        {
          residual: ref(Torque, 'Torque of the test less what the drags give for it.'),
          standardized: Type.Optional(
            plainOut('Residual over its standard deviation; absent where nothing checks this test.'),
          ),
        },
        { additionalProperties: false, description: 'Torque of a test minus what the drags give for it.' },
      ),
      { maxItems: 100, description: 'One row a test, in the order given.' },
    ),
    degreesOfFreedom: plainOut('Tests beyond those needed: they check the others.'),
    agreementPercent: Type.Optional(
      plainOut(
        'Probability of tests that disagree as much as these, or more, by their uncertainties alone [%].',
      ),
    ),
    findings: Type.Array(
      Type.Object(
        {
          code: choice(
            ['assembly-drags', 'assembly-does-not-drag', 'joint-drags', 'part-above-usual', 'part-dominates'],
            { description: 'What was found.' },
          ),
          level: choice(['info', 'caution'], { description: 'caution: something to put right.' }),
          parts: partNames('Parts concerned.'),
          text: Type.String({ description: 'The finding, for people.' }),
          causes: Type.Array(ref(DragCause), { maxItems: 6, description: 'Candidates, most usual first.' }),
        },
        { additionalProperties: false, description: 'Something that the tests point at.' },
      ),
      { maxItems: 130, description: 'Findings: the assembly, then joints, then parts.' },
    ),
    nextTests: Type.Array(
      Type.Object(
        {
          parts: partNames('Parts to couple and turn together.'),
          assembled: Type.Boolean({ description: 'In place in the car; else loose on the bench.' }),
          determines: partNames('What becomes known by it.'),
          uncertaintyReductionPercent: plainOut(
            'By how much the uncertainty of all drags together shrinks [%]; 0 while something stays open.',
          ),
        },
        { additionalProperties: false, description: 'A torque test worth doing.' },
      ),
      { maxItems: 3, description: 'The most telling next tests, best first.' },
    ),
  },
)

export type CableDragRequestShape = Static<typeof CableDragRequest>
