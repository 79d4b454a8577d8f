import { type Static, Type } from '@sinclair/typebox'
import { calculationAnswer } from './answers.js'
import { DragCause, partKind } from './cable-drag.js'
import { choice, named, plain, plainOut, ref } from './measures.js'
import { lineText, longText } from './texts.js'

const PART_KINDS = [
  'wheel-drive-cap',
  'angle-drive',
  'lower-cable',
  'service-counter',
  'upper-cable',
  'head',
  'pulse-ring',
  'sensor',
  'wiring',
  'supply',
  'controller',
  'display',
  'other',
] as const

const linkName = (description: string) =>
  lineText(60, description, { examples: ['lower-cable', 'angle-drive', 'head', 'sensor'] })

const prior = plain({
  minimum: 0,
  maximum: 1000,
  description:
    'Weight of this link: only the proportions among the links count. Left out: usual for its kind.',
})

export const LinkIn = named(
  'LinkIn',
  Type.Union(
    [
      Type.Object(
        {
          kind: choice(PART_KINDS, { description: 'What sort of link it is.' }),
          name: Type.Optional(linkName('What it is called. Left out: its kind.')),
          prior: Type.Optional(prior),
        },
        { additionalProperties: false, title: 'a part' },
      ),
      Type.Object(
        {
          kind: choice(['interaction'], {
            description: 'A fault that shows only when links are together, and in none of them alone.',
          }),
          name: Type.Optional(linkName('What it is called. Left out: interaction.')),
          prior: Type.Optional(prior),
          between: Type.Optional(
            Type.Array(linkName('Name of a link.'), {
              minItems: 2,
              maxItems: 20,
              description: 'Links that must be together for it to show. Left out: all links in line.',
            }),
          ),
        },
        { additionalProperties: false, title: 'an interaction' },
      ),
    ],
    { description: 'A link of the chain.' },
  ),
)

const probability = (description: string, minimum = 0) => plain({ minimum, maximum: 1, description })

const testId = lineText(100, 'Id of a test or a symptom, as the answer lists them.', {
  examples: ['draw-core/lower-cable', 'quick-spin/head', 'dial-and-record-dead', 'pointer-wavers'],
})

export const FaultTestIn = named(
  'FaultTestIn',
  Type.Object(
    {
      test: lineText(100, 'Id: of a built-in test, to change its figures; or a new one.', {
        examples: ['quick-spin/head', 'ask the last owner'],
      }),
      text: Type.Optional(longText(500, 'What to do, for people.')),
      detects: Type.Optional(
        Type.Array(linkName('Name of a link that it covers.'), {
          minItems: 1,
          maxItems: 20,
          description: 'Links at whose fault it fails; needed for a test of your own.',
        }),
      ),
      minutes: Type.Optional(
        Type.Number({
          minimum: 0.1,
          maximum: 10_000,
          description: 'Minutes that it takes [minute]; needed for a test of your own.',
          'x-unit': 'min',
        }),
      ),
      sensitivity: Type.Optional(
        probability('Probability that it fails when a link that it covers is at fault. Left out: 0.95.'),
      ),
      falseAlarm: Type.Optional(
        probability('Probability that it fails when the fault lies elsewhere. Left out: 0.03.'),
      ),
    },
    {
      additionalProperties: false,
      description: 'A test of your own, or your figures for a built-in test.',
    },
  ),
)

export const NextTestRequest = named(
  'NextTestRequest',
  Type.Object(
    {
      chain: Type.Array(ref(LinkIn), {
        minItems: 1,
        maxItems: 20,
        description:
          'Links in order from wheel to dial, each with a name of its own. Two or more mechanical ones get a link of kind interaction after them, unless one is given; one with prior 0 leaves it out.',
      }),
      observations: Type.Optional(
        Type.Array(
          Type.Object(
            {
              test: testId,
              result: choice(['fail', 'pass', 'present', 'absent'], {
                description: 'A test fails or passes; a symptom is present or absent.',
              }),
            },
            { additionalProperties: false, description: 'What was seen.' },
          ),
          {
            maxItems: 100,
            description:
              'All observations so far, in their order: the service keeps none. Left out: none yet.',
          },
        ),
      ),
      tests: Type.Optional(
        Type.Array(ref(FaultTestIn), {
          maxItems: 50,
          description: 'Tests of your own, and your figures for built-in ones.',
        }),
      ),
      stopAt: Type.Optional(
        plain({
          minimum: 0.5,
          maximum: 0.999,
          description: 'Probability at which a link counts as found. Left out: 0.95.',
        }),
      ),
    },
    {
      additionalProperties: false,
      examples: [
        {
          chain: [
            { kind: 'wheel-drive-cap' },
            { kind: 'angle-drive', prior: 6 },
            { kind: 'lower-cable' },
            { kind: 'service-counter' },
            { kind: 'upper-cable' },
            { kind: 'head' },
            { kind: 'interaction', between: ['angle-drive', 'lower-cable'] },
          ],
          observations: [
            { test: 'dial-and-record-dead', result: 'present' },
            { test: 'new-part-fails-again', result: 'present' },
            { test: 'drive-from/lower-cable', result: 'pass' },
          ],
        },
        {
          chain: [
            { kind: 'pulse-ring' },
            { kind: 'sensor' },
            { kind: 'wiring' },
            { kind: 'supply' },
            { kind: 'controller' },
            { kind: 'display' },
          ],
          tests: [
            { test: 'voltage-under-load/supply', minutes: 2 },
            {
              test: 'wiggle the plug',
              text: 'Move the plug of the sensor and watch the reading.',
              detects: ['wiring'],
              minutes: 1,
              sensitivity: 0.5,
              falseAlarm: 0.02,
            },
          ],
          stopAt: 0.9,
        },
        { chain: [{ kind: 'other', name: 'worm' }, { kind: 'other', name: 'shaft' }, { kind: 'head' }] },
      ],
    },
  ),
)

const LinkProbability = named(
  'LinkProbability',
  Type.Object(
    {
      name: Type.String({ description: 'The link.' }),
      probability: plainOut('Probability that it is the one at fault.'),
    },
    { additionalProperties: false, description: 'A link and how likely it is at fault.' },
  ),
)

export const TestOutcome = named(
  'TestOutcome',
  Type.Object(
    {
      probability: plainOut('Probability of this outcome.'),
      leading: Type.Array(ref(LinkProbability), {
        maxItems: 3,
        description: 'The likeliest links after it.',
      }),
      isolates: Type.Boolean({ description: 'The likeliest link would then count as found.' }),
    },
    { additionalProperties: false, description: 'What one outcome of a test would mean.' },
  ),
)

const standing = choice(['common-practice', 'user'], {
  description: 'Whether the figures are the service’s, common practice without a source, or yours.',
})

const minutesOut = (description: string) =>
  Type.Number({ description: `${description} [minute].`, 'x-unit': 'min' })

export const RankedTest = named(
  'RankedTest',
  Type.Object(
    {
      test: Type.String({ description: 'Id, for observations.' }),
      text: Type.String({ description: 'What to do.' }),
      covers: Type.Array(Type.String(), {
        maxItems: 21,
        description: 'Links at whose fault it fails.',
      }),
      minutes: minutesOut('Minutes that it takes'),
      sensitivity: plainOut('Probability that it fails when a link that it covers is at fault.'),
      falseAlarm: plainOut('Probability that it fails when the fault lies elsewhere.'),
      standing,
      bits: plainOut('What it is expected to tell [bit].'),
      bitsPerMinute: Type.Number({
        description: 'What it tells per minute [bit/minute]: the order of the list.',
        'x-unit': 'bit/min',
      }),
      ifFail: ref(TestOutcome, 'What holds if the test fails.'),
      ifPass: ref(TestOutcome, 'What holds if the test passes.'),
      expectedMinutes: Type.Optional(
        minutesOut('Expected minutes until a link is found when this test is done next, this one included'),
      ),
    },
    { additionalProperties: false, description: 'A test that tells something.' },
  ),
)

export const NextTestAnswer = calculationAnswer(
  'NextTestAnswer',
  'How likely each link is at fault, and which test to do next.',
  {
    links: Type.Array(
      Type.Object(
        {
          name: Type.String({ description: 'The link.' }),
          kind: choice([...PART_KINDS, 'interaction'], { description: 'What sort of link it is.' }),
          prior: plainOut('Probability before any observation.'),
          priorStanding: standing,
          probability: plainOut('Probability after all observations.'),
        },
        { additionalProperties: false, description: 'A link of the chain.' },
      ),
      { maxItems: 21, description: 'Links, in the order given; an interaction that was put in comes last.' },
    ),
    unknownBits: plainOut('What is still unknown [bit]; 0 when one link is certain.'),
    status: choice(['isolated', 'test-on', 'no-test-helps'], {
      description:
        'isolated: a link is as likely as stopAt, put it right and test the whole; test-on: do next; no-test-helps: no test that is left tells anything, so add a test, or replace the suspect.',
    }),
    stopAt: plainOut('Probability at which a link counts as found.'),
    suspect: ref(LinkProbability, 'The link that is most likely at fault.'),
    interaction: Type.Optional(
      Type.Object(
        {
          parts: Type.Array(
            Type.Object(
              { name: Type.String({ description: 'The link.' }), kind: partKind },
              { additionalProperties: false, description: 'A part of the operation.' },
            ),
            { maxItems: 20, description: 'The parts that bind together, as the operation takes them.' },
          ),
          causes: Type.Array(ref(DragCause), { maxItems: 6, description: 'Candidates, most usual first.' }),
          operation: Type.String({ description: 'The operation that finds the joint by torque.' }),
          text: Type.String({ description: 'What to measure for it.' }),
          likeliest: Type.Optional(
            Type.Object(
              {
                names: Type.Array(Type.String(), { maxItems: 20, description: 'Links that meet there.' }),
                probability: plainOut('Probability of this place, given that parts bind together.'),
              },
              {
                additionalProperties: false,
                description:
                  'Where it is likeliest, for an interaction that was put in, once the tests tell.',
              },
            ),
          ),
        },
        {
          additionalProperties: false,
          description:
            'What may be behind it and how to find the joint, when an interaction of mechanical parts is isolated.',
        },
      ),
    ),
    next: Type.Optional(
      ref(RankedTest, 'The test to do next; absent when a link is isolated or no test helps.'),
    ),
    tests: Type.Array(ref(RankedTest), {
      maxItems: 120,
      description: 'Tests that tell anything, most information per minute first.',
    }),
    steps: Type.Array(
      Type.Object(
        {
          test: Type.String({ description: 'Test or symptom.' }),
          result: Type.String({ description: 'Its result.' }),
          probability: plainOut(
            'How likely this result was before it came: a small one is worth a second look.',
          ),
          unknownBits: plainOut('What was unknown after it [bit].'),
          suspect: ref(LinkProbability, 'The link that was most likely at fault after it.'),
        },
        { additionalProperties: false, description: 'What one observation did.' },
      ),
      { maxItems: 100, description: 'One row an observation, in their order.' },
    ),
    symptoms: Type.Array(
      Type.Object(
        {
          test: Type.String({ description: 'Id, for observations with result present or absent.' }),
          text: Type.String({ description: 'The symptom.' }),
          bits: plainOut('What knowing it is expected to tell [bit].'),
        },
        { additionalProperties: false, description: 'A symptom worth asking for.' },
      ),
      { maxItems: 20, description: 'Symptoms not yet told, most telling first: they cost nothing.' },
    ),
  },
)

export type NextTestRequestShape = Static<typeof NextTestRequest>
