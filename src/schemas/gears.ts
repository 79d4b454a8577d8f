import { type Static, Type } from '@sinclair/typebox'
import { calculationAnswer } from './answers.js'
import { Ratio } from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { count, plain, plainOut } from './plain-values.js'

const ratioValue = plain({
  minimum: 0.001,
  maximum: 10_000,
  description: 'Turns of the last wheel per turn of the first.',
})

export const TrainRatioIn = named(
  'TrainRatioIn',
  Type.Union(
    [
      ratioValue,
      Type.Object(
        {
          value: ratioValue,
          plusMinus: Type.Optional(
            plain({
              minimum: 0,
              maximum: 10_000,
              description: 'Uncertainty of the ratio, 95 %; left out: exact.',
            }),
          ),
        },
        { additionalProperties: false, title: 'with its uncertainty' },
      ),
      Type.Object(
        {
          numerator: count({
            minimum: 1,
            maximum: 1_000_000_000,
            description: 'Turns of the last wheel …',
          }),
          denominator: count({
            minimum: 1,
            maximum: 1_000_000_000,
            description: '… in so many turns of the first.',
          }),
        },
        { additionalProperties: false, title: 'as a fraction' },
      ),
    ],
    {
      description:
        'Turns of the last wheel per turn of the first: a number taken digit by digit as exact, a value with its uncertainty, or a fraction.',
    },
  ),
)

const teeth = (description: string) =>
  count({ minimum: 1, maximum: 400, description: `${description}; a worm counts its starts.` })

export const WheelsIn = named(
  'WheelsIn',
  Type.Union(
    [
      Type.Object(
        { min: teeth('Fewest teeth'), max: teeth('Most teeth') },
        { additionalProperties: false, title: 'every count in a range' },
      ),
      Type.Array(teeth('Teeth of a wheel'), {
        minItems: 1,
        maxItems: 200,
        description: 'Available tooth counts.',
      }),
    ],
    { description: 'Wheels: every count from min to max (200 counts at most), or a list of counts.' },
  ),
)

export const TrainsRequest = named(
  'TrainsRequest',
  Type.Object(
    {
      ratio: ref(TrainRatioIn, 'Ratio wanted: turns of the last wheel per turn of the first.'),
      stages: Type.Optional(
        count({
          minimum: 1,
          maximum: 3,
          description: 'Largest number of stages; trains of fewer are searched too. Left out: 3.',
        }),
      ),
      teeth: ref(
        WheelsIn,
        'Wheels to choose from; where drivenTeeth is given, those of the driving places only.',
      ),
      drivenTeeth: Type.Optional(
        ref(WheelsIn, 'Wheels to choose the driven ones from; left out: the same as teeth.'),
      ),
      eachOnce: Type.Optional(
        Type.Boolean({
          description:
            'true: each count listed is one wheel on the shelf, used at most once (list it twice when there are two). Left out: any number of each can be had.',
        }),
      ),
      maxResults: Type.Optional(
        count({ minimum: 1, maximum: 100, description: 'Maximum number of trains; left out: 10.' }),
      ),
    },
    {
      additionalProperties: false,
      description:
        'A ratio, and the gear wheels to make it from. With drivenTeeth, teeth are for the driving wheels only.',
      examples: [
        { ratio: 1.016054, stages: 2, teeth: { min: 12, max: 60 }, maxResults: 5 },
        {
          ratio: { value: 0.9842, plusMinus: 0.004 },
          stages: 2,
          teeth: [20, 24, 25, 30, 32, 36, 40, 45, 50, 60, 60],
          eachOnce: true,
        },
        {
          ratio: { numerator: 1000, denominator: 879 },
          stages: 3,
          teeth: { min: 12, max: 60 },
          maxResults: 10,
        },
        { ratio: 0.35, stages: 1, teeth: { min: 6, max: 10 }, drivenTeeth: { min: 15, max: 25 } },
      ],
    },
  ),
)

const MeshOut = shape('Mesh', 'Two wheels in mesh.', {
  driving: Type.Integer({ description: 'Teeth of the driving wheel.', 'x-dimensionless': true }),
  driven: Type.Integer({ description: 'Teeth of the driven wheel.', 'x-dimensionless': true }),
  ratio: plainOut('Turns of the driven wheel per turn of the driving one.'),
  hunting: Type.Boolean({
    description: 'The counts are prime to each other: every tooth meets every tooth before one pair repeats.',
  }),
  repeatTurns: Type.Integer({
    description: 'Turns of the driving wheel until the same two teeth meet again.',
    'x-dimensionless': true,
  }),
})

const errorPercent = plainOut('Ratio over the ratio of the request, minus one [%]; 0 only when exact.')
const numerator = Type.Integer({ description: 'Numerator, in lowest terms.', 'x-dimensionless': true })
const denominator = Type.Integer({ description: 'Denominator, in lowest terms.', 'x-dimensionless': true })
const stages = Type.Integer({ description: 'Number of stages.', 'x-dimensionless': true })

export const Train = shape('Train', 'A gear train.', {
  stages,
  teeth: listOf(MeshOut, 3, 'Its stages, first to last.'),
  ratio: plainOut('Turns of the last wheel per turn of the first.'),
  numerator,
  denominator,
  errorPercent,
  exact: Type.Boolean({ description: 'Whether the ratio is exactly the one of the request.' }),
  reverses: Type.Boolean({
    description: 'Last wheel turns against the first, with outside teeth on parallel shafts.',
  }),
  withinUncertainty: Type.Optional(
    Type.Boolean({
      description: 'Whether the error is at most the uncertainty of the ratio in the request.',
    }),
  ),
})

export const Convergent = shape('Convergent', 'A convergent of the continued fraction.', {
  partialQuotient: plainOut('Term of the continued fraction.'),
  numerator,
  denominator,
  errorPercent,
  stages: Type.Optional(
    Type.Integer({
      description: 'Fewest stages in which the wheels give it; absent when they cannot.',
      'x-dimensionless': true,
    }),
  ),
})

export const TrainsAnswer = calculationAnswer('TrainsAnswer', 'Best trains for a ratio, best first.', {
  ratio: ref(Ratio, 'The ratio of the request, with its uncertainty.'),
  exactRatio: Type.String({ description: 'The ratio as the fraction that was searched for.' }),
  trains: listOf(
    Train,
    100,
    'Best first, each of another ratio; of one ratio the train with the fewest stages, and of the 50 smallest products that give it the one with most hunting pairs.',
  ),
  bestByStages: Type.Array(
    Type.Object(
      { stages, errorPercent },
      { additionalProperties: false, description: 'Smallest error with up to so many stages.' },
    ),
    { maxItems: 3, description: 'What each further stage gains.' },
  ),
  convergents: listOf(
    Convergent,
    60,
    'Convergents of the continued fraction of the ratio, terms up to 1e9, coarsest first.',
  ),
  searched: plainOut(
    'Pairs of a product of driving and one of driven wheels: none of them is nearer than the trains shown.',
  ),
})

export type TrainsRequestShape = Static<typeof TrainsRequest>
