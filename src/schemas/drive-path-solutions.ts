import { Type } from '@sinclair/typebox'
import { calculationAnswer } from './answers.js'
import { EXAMPLE_CAR, EXAMPLE_HEAD, Rules } from './drive-paths.js'
import { Head, OpenStage, Teeth } from './drive-stages.js'
import { Verdict } from './gauges.js'
import { Ratio, SetSpeedIn } from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { count, plain, plainOut } from './plain-values.js'
import { Tire } from './tires.js'

export const SolutionRequest = named(
  'SolutionRequest',
  Type.Object(
    {
      tire: ref(Tire, 'The tire on the driven wheels.'),
      stages: Type.Array(ref(OpenStage), {
        minItems: 1,
        maxItems: 20,
        description: 'Stages from wheel to dial, one or more with find in place of their ratio.',
      }),
      head: ref(Head, 'The head that should read true.'),
      speeds: Type.Optional(
        Type.Array(ref(SetSpeedIn), {
          minItems: 1,
          maxItems: 200,
          description:
            'True speeds to judge at beside the round speeds of the dial; the aim counts those from 20 km/h up.',
        }),
      ),
      rules: Rules,
      aim: Type.Optional(
        Type.Object(
          {
            overReadPercent: Type.Object(
              {
                min: plain({ minimum: -50, maximum: 100, description: 'Minimum over-reading wanted [%].' }),
                max: plain({ minimum: -50, maximum: 100, description: 'Maximum over-reading wanted [%].' }),
              },
              { additionalProperties: false, description: 'Range wanted.' },
            ),
          },
          {
            additionalProperties: false,
            description:
              'Wanted range of the error. Left out: over-reading by 0 to 4 %, never under-reading.',
          },
        ),
      ),
      maxResults: Type.Optional(
        count({ minimum: 1, maximum: 100, description: 'Maximum number of candidates; left out: 10.' }),
      ),
    },
    {
      additionalProperties: false,
      examples: [
        {
          tire: { size: '205/70R14' },
          stages: [
            { kind: 'final-drive', ratio: 3.9 },
            { kind: 'gear-pair', find: { driving: [6, 7, 8], driven: [17, 18, 19, 20, 21, 22] } },
          ],
          head: EXAMPLE_HEAD,
          speeds: [{ mph: 30 }, { mph: 70 }],
          rules: ['un-r39'],
        },
        {
          tire: { turns: { perMile: 800 } },
          stages: [
            { kind: 'pulse-ring', pulsesPerTurn: 16 },
            { kind: 'pulse-scaler', find: { maxTerm: 99 } },
          ],
          head: { input: 'pulses', constant: { perMile: 8000 }, unit: 'mph' },
          aim: { overReadPercent: { min: 0, max: 2 } },
        },
        {
          ...EXAMPLE_CAR,
          stages: [...EXAMPLE_CAR.stages, { kind: 'adapter', find: 'exact' }],
          head: EXAMPLE_HEAD,
        },
      ],
    },
  ),
)

export const ChosenStage = shape('ChosenStage', 'What was found for a stage.', {
  pointer: Type.String({ description: 'The stage in the request, as a JSON Pointer.' }),
  ratio: plainOut('Ratio of the stage.'),
  teeth: Type.Optional(ref(Teeth, 'Tooth counts chosen; absent where the stage is not a pair of gears.')),
  multiply: Type.Optional(count({ minimum: 1, maximum: 1e9, description: 'Numerator of the ratio.' })),
  divide: Type.Optional(count({ minimum: 1, maximum: 1e9, description: 'Denominator of the ratio.' })),
})

export const SolutionCandidate = shape('SolutionCandidate', 'One way to fill the open stages.', {
  stages: listOf(ChosenStage, 20, 'The stages found, in path order.'),
  indicatedPerTrue: ref(
    Ratio,
    'Indicated over true speed with these stages, apart from the offset of the head: above 1 it over-reads.',
  ),
  errorPercent: plainOut(
    'Over-reading with the offset of the head [%], at the speed where it is largest: among the round speeds of the dial from 20 km/h up and the speeds of the request. Below zero it under-reads.',
  ),
  withinAim: Type.Boolean({
    description: 'Whether the best estimate of the error lies within the aim at each of those speeds.',
  }),
  probabilityOfUnderReading: plainOut(
    'Probability that it under-reads at the worst of those speeds, given the uncertainty of the inputs [0..1].',
  ),
  verdicts: listOf(Verdict, 20, 'One verdict for each rule over all its speeds.'),
})

export const SolutionAnswer = calculationAnswer(
  'SolutionAnswer',
  'Ways to fill the open stages of a drive path.',
  {
    exact: plainOut('Product of the open stages at which the head reads true, apart from its offset.'),
    candidates: listOf(
      SolutionCandidate,
      100,
      'Best first: within the aim, then over-reading, then under-reading; nearer before farther.',
    ),
    searched: count({
      minimum: 0,
      maximum: Number.MAX_SAFE_INTEGER,
      description: 'Number of combinations that were compared, without those that cannot be among the best.',
    }),
  },
)
