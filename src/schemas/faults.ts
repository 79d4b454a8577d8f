import { Type } from '@sinclair/typebox'
import { PART_KINDS } from '../domain/cables/part-kinds.js'
import { calculationAnswer } from './answers.js'
import { DragCause, partKind } from './cable-drag.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { choice, plain, plainOut } from './plain-values.js'
import { lineText, longText } from './texts.js'

const LINK_KINDS = [
  ...PART_KINDS,
  'pulse-ring',
  'sensor',
  'wiring',
  'supply',
  'controller',
  'display',
] as const

const linkName = (description: string) =>
  lineText(60, description, { examples: ['gearbox drive', 'cable', 'head', 'sensor'] })

const prior = plain({
  minimum: 0,
  maximum: 1000,
  description:
    'Weight of this link as the one at fault; only the proportions among the links count. Left out: the default of its kind.',
})

export const LinkIn = named(
  'LinkIn',
  Type.Union(
    [
      Type.Object(
        {
          kind: choice(LINK_KINDS, {
            description:
              'Kind of link; it selects the built-in tests, the default prior and the likely symptoms.',
          }),
          name: Type.Optional(linkName('Name of the link, unique in the chain. Left out: its kind.')),
          prior: Type.Optional(prior),
        },
        { additionalProperties: false, title: 'a part' },
      ),
      Type.Object(
        {
          kind: choice(['interaction'], {
            description: 'A fault that shows only when links run together, and in none of them alone.',
          }),
          name: Type.Optional(linkName('Name of the link, unique in the chain. Left out: interaction.')),
          prior: Type.Optional(prior),
          between: Type.Optional(
            Type.Array(linkName('Name of a link.'), {
              minItems: 2,
              maxItems: 20,
              description: 'Links that must run together for it to show. Left out: all links but the supply.',
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

const testId = lineText(100, 'Id of a test or a symptom, as the answer lists it.', {
  examples: ['draw-core/cable', 'quick-spin/head', 'dial-and-odometer-dead', 'pointer-wavers'],
})

export const FaultTestIn = shape('FaultTestIn', 'A new test, or your figures for a built-in test.', {
  test: lineText(100, 'Id of a built-in test, to change its figures, or a new id.', {
    examples: ['quick-spin/head', 'wiggle the plug'],
  }),
  text: Type.Optional(
    longText(500, 'What to do, for people. Left out: the text of the built-in test, or the id.'),
  ),
  covers: Type.Optional(
    Type.Array(linkName('Name of a link that it covers.'), {
      minItems: 1,
      maxItems: 20,
      description:
        'Links whose fault makes the test fail; required for a new test. Left out: those of the built-in test.',
    }),
  ),
  minutes: Type.Optional(
    Type.Number({
      minimum: 0.1,
      maximum: 10_000,
      description:
        'Duration of the test [minute]; required for a new test. Left out: that of the built-in test.',
      'x-unit': 'min',
    }),
  ),
  sensitivity: Type.Optional(
    probability(
      'Probability that it fails when a link that it covers is at fault. Left out: that of the built-in test, 0.95 for a new test.',
    ),
  ),
  falseAlarm: Type.Optional(
    probability(
      'Probability that it fails when the fault lies elsewhere. Left out: that of the built-in test, 0.03 for a new test.',
    ),
  ),
})

export const NextTestRequest = named(
  'NextTestRequest',
  Type.Object(
    {
      chain: Type.Array(ref(LinkIn), {
        minItems: 1,
        maxItems: 20,
        description:
          'Links in order from wheel to dial, each with a unique name. The service adds a link of kind interaction after two or more mechanical ones unless the chain names one; one with prior 0 leaves it out.',
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
            { additionalProperties: false, description: 'An observation.' },
          ),
          {
            maxItems: 100,
            description: 'All observations so far, in order: the service stores none. Left out: none yet.',
          },
        ),
      ),
      tests: Type.Optional(
        listOf(
          FaultTestIn,
          50,
          'New tests, and your figures for built-in tests. Left out: the built-in tests with their figures.',
        ),
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
          chain: [{ kind: 'gearbox-drive' }, { kind: 'cable' }, { kind: 'head' }],
          observations: [
            { test: 'dial-and-odometer-dead', result: 'present' },
            { test: 'watch-after/gearbox-drive', result: 'pass' },
          ],
        },
        {
          chain: [
            { kind: 'gearbox-drive', name: 'transfer case drive' },
            { kind: 'adapter', name: 'ratio adapter', prior: 4 },
            { kind: 'cable' },
            { kind: 'head' },
            { kind: 'interaction', between: ['ratio adapter', 'cable'] },
          ],
          observations: [
            { test: 'pointer-wavers', result: 'present' },
            { test: 'new-part-fails-again', result: 'present' },
            { test: 'turn-alone/ratio adapter', result: 'pass' },
          ],
        },
        {
          chain: [
            { kind: 'hub-drive' },
            { kind: 'cable', name: 'wheel cable' },
            { kind: 'in-line-unit', name: 'speed switch' },
            { kind: 'cable', name: 'dash cable' },
            { kind: 'head' },
          ],
          observations: [{ test: 'in-line-unit-runs-dial-dead', result: 'present' }],
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
              covers: ['wiring'],
              minutes: 1,
              sensitivity: 0.5,
              falseAlarm: 0.02,
            },
          ],
          stopAt: 0.9,
        },
      ],
    },
  ),
)

const LinkProbability = shape('LinkProbability', 'A link and the probability that it is at fault.', {
  name: Type.String({ description: 'The link.' }),
  probability: plainOut('Probability that this link is the one at fault.'),
})

export const TestOutcome = shape('TestOutcome', 'Result of one outcome of a test.', {
  probability: plainOut('Probability of this outcome.'),
  leading: listOf(LinkProbability, 3, 'The likeliest links after this outcome, at most three.'),
  isolates: Type.Boolean({ description: 'Whether the likeliest link then counts as found.' }),
})

const standing = choice(['common-practice', 'user'], {
  description: 'Basis of the figures: common practice, no source, or yours.',
})

const minutesOut = (description: string) =>
  Type.Number({ description: `${description} [minute].`, 'x-unit': 'min' })

export const RankedTest = shape('RankedTest', 'An informative test.', {
  test: Type.String({ description: 'Id of the test, for observations.' }),
  text: Type.String({ description: 'What to do.' }),
  covers: Type.Array(Type.String(), {
    maxItems: 21,
    description: 'Links whose fault makes the test fail.',
  }),
  minutes: minutesOut('Duration of the test'),
  sensitivity: plainOut('Probability that it fails when a link that it covers is at fault.'),
  falseAlarm: plainOut('Probability that it fails when the fault lies elsewhere.'),
  standing,
  informationBits: plainOut('Expected information gain of the test [bit].'),
  bitsPerMinute: Type.Number({
    description: 'Expected information gain per minute [bit/minute]; the list is in this order.',
    'x-unit': 'bit/min',
  }),
  ifFail: ref(TestOutcome, 'What holds if the test fails.'),
  ifPass: ref(TestOutcome, 'What holds if the test passes.'),
  expectedMinutes: Type.Optional(
    minutesOut('Expected duration of the search when this test is done next, this test included'),
  ),
})

export const NextTestAnswer = calculationAnswer(
  'NextTestAnswer',
  'Probability that each link is at fault, and the next test to do.',
  {
    links: Type.Array(
      Type.Object(
        {
          name: Type.String({ description: 'The link.' }),
          kind: choice([...LINK_KINDS, 'interaction'], { description: 'Kind of link.' }),
          prior: plainOut('Probability before any observation.'),
          priorStanding: standing,
          probability: plainOut('Probability after all observations.'),
        },
        { additionalProperties: false, description: 'A link of the chain.' },
      ),
      {
        maxItems: 21,
        description: 'Links, in the order given; an interaction that the service added comes last.',
      },
    ),
    entropyBits: plainOut('Entropy of the probabilities [bit]: 0 when one link is certain.'),
    status: choice(['isolated', 'continue', 'inconclusive'], {
      description:
        'isolated: a link has reached stopAt, so repair it and test the whole drive; continue: do the test under next; inconclusive: no remaining test is informative, so add a test, or replace the suspect.',
    }),
    stopAt: plainOut('Probability at which a link counts as found.'),
    suspect: ref(LinkProbability, 'The link that is most likely at fault.'),
    interaction: Type.Optional(
      Type.Object(
        {
          parts: Type.Array(
            Type.Object(
              { name: Type.String({ description: 'The link.' }), kind: partKind },
              { additionalProperties: false, description: 'A part for the operation.' },
            ),
            {
              maxItems: 20,
              description: 'The parts that bind together, in the form that the operation takes.',
            },
          ),
          causes: listOf(DragCause, 6, 'Possible causes, most common first.'),
          operation: Type.String({ description: 'The operation that finds the joint from torque tests.' }),
          text: Type.String({ description: 'What to measure for the operation.' }),
          likeliest: Type.Optional(
            Type.Object(
              {
                names: Type.Array(Type.String(), {
                  maxItems: 20,
                  description: 'Links that meet at this place.',
                }),
                probability: plainOut('Probability of this place, given that parts bind together.'),
              },
              {
                additionalProperties: false,
                description:
                  'The likeliest place of an interaction that the service added, once tests tell the places apart.',
              },
            ),
          ),
        },
        {
          additionalProperties: false,
          description:
            'Possible causes and how to find the joint, when an interaction of mechanical parts is isolated.',
        },
      ),
    ),
    next: Type.Optional(
      ref(RankedTest, 'The test to do next; absent when a link is isolated or no test helps.'),
    ),
    tests: listOf(RankedTest, 120, 'Informative tests, most information per minute first.'),
    steps: Type.Array(
      Type.Object(
        {
          test: Type.String({ description: 'Id of the test or symptom.' }),
          result: Type.String({ description: 'Result of the test or symptom.' }),
          probability: plainOut(
            'Probability of this result, given those before it; check a result with a small one again.',
          ),
          entropyBits: plainOut('Entropy of the probabilities after it [bit].'),
          suspect: ref(LinkProbability, 'The link that was most likely at fault after it.'),
        },
        { additionalProperties: false, description: 'Effect of one observation.' },
      ),
      { maxItems: 100, description: 'One row for each observation, in order.' },
    ),
    symptoms: Type.Array(
      Type.Object(
        {
          test: Type.String({
            description: 'Id of the symptom, for observations with result present or absent.',
          }),
          text: Type.String({ description: 'The symptom.' }),
          informationBits: plainOut('Expected information gain of the answer [bit].'),
        },
        { additionalProperties: false, description: 'A symptom worth asking about.' },
      ),
      {
        maxItems: 20,
        description: 'Symptoms not yet observed, most informative first; asking costs no time.',
      },
    ),
  },
)
