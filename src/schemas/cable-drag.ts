import { Type } from '@sinclair/typebox'
import { DRAG_CAUSES, PART_KINDS } from '../domain/cables/part-kinds.js'
import { STANDINGS } from '../domain/measure/sources.js'
import { calculationAnswer } from './answers.js'
import { measureIn } from './measure-shapes.js'
import { Torque } from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { choice, plainOut } from './plain-values.js'
import { lineText } from './texts.js'

export const DragTorqueIn = measureIn('DragTorqueIn', 'torque', {
  min: 0,
  max: 20,
  description: 'Torque that turns a part, or several coupled parts, steadily and without load.',
})

const partName = (description: string) =>
  lineText(60, description, { examples: ['gearbox drive', 'cable', 'head', 'ratio adapter'] })

export const partKind = choice(PART_KINDS, { description: 'Kind of part.' })

export const DragPartIn = named(
  'DragPartIn',
  Type.Union(
    [
      partName('Name of the part, unique among the parts.'),
      Type.Object(
        {
          name: partName('Name of the part, unique among the parts.'),
          kind: Type.Optional(
            choice(PART_KINDS, {
              description: 'Kind of part; it selects the possible causes of its drag. Left out: other.',
            }),
          ),
          typical: Type.Optional(
            ref(
              DragTorqueIn,
              'Typical drag of such a part in good order, to compare with; left out: not compared.',
              '{name}: typical drag',
            ),
          ),
        },
        { additionalProperties: false, title: 'with its kind and typical drag' },
      ),
    ],
    {
      description:
        'A part: its name, or its name with its kind and typical, the drag of such a part in good order. typical left out: the drag of the part is not compared.',
    },
  ),
)

export const CableDragRequest = named(
  'CableDragRequest',
  Type.Object(
    {
      parts: Type.Array(ref(DragPartIn), {
        minItems: 1,
        maxItems: 20,
        description: 'Parts of the drive, in the order of coupling from wheel to dial.',
      }),
      tests: Type.Array(
        Type.Object(
          {
            parts: Type.Array(partName('Name of a part in the test.'), {
              minItems: 1,
              maxItems: 20,
              description: 'Parts that turned together in this test.',
            }),
            torque: ref(DragTorqueIn, 'Torque that turns these parts.', 'torque'),
            assembled: Type.Optional(
              Type.Boolean({
                description:
                  'Whether this is the whole in place in the car, everything tightened. Left out: true when the test includes every part.',
              }),
            ),
          },
          { additionalProperties: false, description: 'One torque test.' },
        ),
        {
          minItems: 1,
          maxItems: 100,
          description:
            'Torque tests. A torque without plusMinus counts with 10 % of the reading, and at least 2 % of the largest. The minimum uncertainty is 0.1 % of the largest, for plusMinus 0 too.',
        },
      ),
    },
    {
      additionalProperties: false,
      examples: [
        {
          parts: [
            { name: 'gearbox drive', kind: 'gearbox-drive' },
            { name: 'cable', kind: 'cable' },
            { name: 'head', kind: 'head', typical: { mNm: 4, plusMinus: 1 } },
          ],
          tests: [
            { parts: ['gearbox drive'], torque: { mNm: 6, plusMinus: 0.6 } },
            { parts: ['cable'], torque: { mNm: 14, plusMinus: 1.2 } },
            { parts: ['head'], torque: { mNm: 4, plusMinus: 0.6 } },
            { parts: ['cable', 'head'], torque: { mNm: 18.2, plusMinus: 1.2 } },
            { parts: ['gearbox drive', 'cable', 'head'], torque: { mNm: 62, plusMinus: 4 } },
          ],
        },
        {
          parts: [
            { name: 'transfer case drive', kind: 'gearbox-drive' },
            { name: 'ratio adapter', kind: 'adapter' },
            { name: 'cable', kind: 'cable' },
            { name: 'head', kind: 'head' },
          ],
          tests: [
            { parts: ['transfer case drive'], torque: { ozIn: 0.8 } },
            { parts: ['ratio adapter'], torque: { ozIn: 0.6 } },
            { parts: ['cable'], torque: { ozIn: 1.8 } },
            { parts: ['head'], torque: { ozIn: 0.5 } },
            { parts: ['ratio adapter', 'cable'], torque: { ozIn: 6.1 } },
            { parts: ['transfer case drive', 'ratio adapter', 'cable', 'head'], torque: { ozIn: 7.6 } },
          ],
        },
        {
          parts: [
            { name: 'hub drive', kind: 'hub-drive' },
            { name: 'wheel cable', kind: 'cable' },
            { name: 'speed switch', kind: 'in-line-unit' },
            { name: 'dash cable', kind: 'cable' },
            { name: 'head', kind: 'head' },
          ],
          tests: [
            { parts: ['hub drive', 'wheel cable'], torque: { mNm: 15, plusMinus: 1 } },
            { parts: ['dash cable', 'head'], torque: { mNm: 13, plusMinus: 1 } },
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

export const DragCause = shape('DragCause', 'A possible cause of drag.', {
  code: choice(DRAG_CAUSES, { description: 'Code of the cause.' }),
  text: Type.String({ description: 'The cause, for people.' }),
  check: Type.String({ description: 'How to tell it from the other causes.' }),
  standing: choice(STANDINGS, {
    description: 'How well the cause is known.',
  }),
})

export const CableDragAnswer = calculationAnswer(
  'CableDragAnswer',
  'Drag of each part and of the assembly, and the most informative next tests.',
  {
    parts: Type.Array(
      Type.Object(
        {
          name: Type.String({ description: 'The part.' }),
          kind: partKind,
          determined: Type.Boolean({
            description:
              'Whether the tests distinguish its drag from that of other parts; drag is absent when false.',
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
          drag: ref(Torque, 'Drag that only the complete assembly shows.'),
          found: Type.Boolean({ description: 'Whether the term is significant at falseAlarmPercent.' }),
          pValuePercent: plainOut(
            'Probability of a term at least this large when there is none: the p-value [%].',
          ),
          falseAlarmPercent: plainOut(
            'Share of cases without such a term in which one is reported: the significance level [%].',
          ),
          detectionLimit: ref(Torque, 'Size of such a drag that is found 19 times in 20.'),
          elsewhere: Type.Optional(ref(Torque, 'The part of it that no joint shows; absent without joints.')),
          wholeMinusParts: Type.Optional(
            ref(Torque, 'Torque of the whole as read, less the sum of the parts as read alone.'),
          ),
          sharePercent: Type.Optional(sharePercent),
        },
        {
          additionalProperties: false,
          description:
            'Torque of the whole in place beyond that of each part alone, its joints included; absent when the tests do not determine it. detectionLimit: a term of this size is found 19 times in 20. elsewhere: the part of it outside the joints, where joints drag. wholeMinusParts: the whole less the sum of its parts, as read, where each was tested alone; it may be negative, the drags never are.',
        },
      ),
    ),
    joints: Type.Array(
      Type.Object(
        { parts: partNames('Parts that meet.'), drag: ref(Torque, 'Drag beyond that of each part alone.') },
        {
          additionalProperties: false,
          description: 'Torque that some parts take coupled loosely, beyond each alone.',
        },
      ),
      {
        maxItems: 100,
        description:
          'Joints that drag, the smallest first; each counts in every test that includes its parts.',
      },
    ),
    notDistinguishable: Type.Array(
      Type.Object(
        {
          names: partNames('Parts, or the assembly term, that the tests do not distinguish.'),
          neverTested: Type.Boolean({ description: 'Whether this is one part that no test includes.' }),
          together: Type.Optional(
            ref(Torque, 'Drag of all of them together; absent when the tests do not determine that either.'),
          ),
        },
        { additionalProperties: false, description: 'A set of parts that the tests do not distinguish.' },
      ),
      { maxItems: 21, description: 'Sets of parts that the tests do not distinguish.' },
    ),
    tests: Type.Array(
      Type.Object(
        {
          residual: ref(Torque, 'Torque of the test minus the sum of the drags in it.'),
          standardized: Type.Optional(
            plainOut('Residual over its standard deviation; absent where no other test checks this one.'),
          ),
        },
        { additionalProperties: false, description: 'Torque of a test less the sum of the drags in it.' },
      ),
      { maxItems: 100, description: 'One row for each test, in the order given.' },
    ),
    degreesOfFreedom: plainOut('Number of tests beyond those needed; they check the others.'),
    agreementPercent: Type.Optional(
      plainOut(
        'Probability that tests disagree at least this much within their uncertainties [%]; absent without spare tests.',
      ),
    ),
    findings: Type.Array(
      Type.Object(
        {
          code: choice(
            [
              'assembly-drags',
              'assembly-does-not-drag',
              'joint-drags',
              'part-above-typical',
              'part-dominates',
            ],
            { description: 'Code of the finding.' },
          ),
          level: choice(['info', 'caution'], {
            description: 'caution: something to repair; info: good to know.',
          }),
          parts: partNames('Parts concerned.'),
          text: Type.String({ description: 'The finding, for people.' }),
          causes: listOf(DragCause, 6, 'Possible causes, most common first.'),
        },
        { additionalProperties: false, description: 'A finding from the tests.' },
      ),
      { maxItems: 130, description: 'Findings: the assembly, then joints, then parts.' },
    ),
    nextTests: Type.Array(
      Type.Object(
        {
          parts: partNames('Parts to couple and turn together.'),
          assembled: Type.Boolean({
            description: 'Whether to test in place in the car (true) or loose on the bench (false).',
          }),
          determines: partNames('Drags that this test determines.'),
          uncertaintyReductionPercent: plainOut(
            'By how much the combined uncertainty of all drags shrinks [%]; 0 while some drags are undetermined.',
          ),
        },
        { additionalProperties: false, description: 'A proposed torque test.' },
      ),
      { maxItems: 3, description: 'The most informative next tests, best first.' },
    ),
  },
)
