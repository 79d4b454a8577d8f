import { Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { rangedOut } from './measure-shapes.js'
import {
  DistanceIn,
  Length,
  PerDistance,
  PerDistanceIn,
  Ratio,
  Speed,
  SpeedIn,
  TireLengthIn,
  TreadWearIn,
} from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { choice, count, plain } from './plain-values.js'

export const SizeText = Type.String({
  minLength: 3,
  maxLength: 40,
  description:
    'Tire size as on the sidewall, any case: 195/70R14, 185/70 HR 13, 165R15, 155-13, 5.60-15, 5.25/5.50-18, FR70-14, 31x10.50R15LT, 190/65R390.',
  examples: ['195/70R14', '165 SR 15', '5.60-15', '31x10.50R15LT'],
})

/** For sizes that do not say how the tire is built. */
const SizeConstruction = choice(['radial', 'diagonal', 'bias-belted'], {
  description:
    'Construction of the carcass, where the size does not say it (155-13, E70-14); must be one that the size allows. Left out: radial is assumed for a width in millimeters without an aspect ratio and without a letter, and the uncertainty covers both; diagonal for other sizes without a letter.',
})

/** A tire, by exactly one of the ways to know it. */
export const Tire = named(
  'Tire',
  Type.Union(
    [
      Type.Object(
        {
          size: SizeText,
          construction: Type.Optional(SizeConstruction),
          wear: Type.Optional(
            ref(TreadWearIn, 'Loss of tread depth against new, at most 20 mm; left out: none.', 'tire: wear'),
          ),
        },
        { additionalProperties: false, title: 'by the size on its sidewall' },
      ),
      Type.Object(
        {
          overallDiameter: ref(TireLengthIn, 'Overall diameter, unloaded.', 'tire: overall diameter'),
          construction: Type.Optional(
            choice(['radial', 'diagonal'], {
              description: 'Left out: radial is assumed and the uncertainty widened.',
            }),
          ),
        },
        { additionalProperties: false, title: 'by its overall diameter, unloaded' },
      ),
      Type.Object(
        {
          rollingCircumference: ref(
            TireLengthIn,
            'Distance that the loaded tire rolls in one turn.',
            'tire: rolling circumference',
          ),
        },
        { additionalProperties: false, title: 'by its rolling circumference' },
      ),
      Type.Object(
        { turns: ref(PerDistanceIn, 'Turns of the loaded tire per distance.', 'tire: turns per distance') },
        { additionalProperties: false, title: 'by its turns per distance' },
      ),
    ],
    { description: 'A tire: give exactly one of size, overallDiameter, rollingCircumference, turns.' },
  ),
)

export const ParsedSize = shape('ParsedSize', 'The parts of a tire size.', {
  designation: Type.String({ description: 'The size in its shortest usual form.' }),
  kind: choice(
    ['metric', 'millimeter-rim', 'full-profile-metric', 'inch', 'combined-inch', 'alphanumeric', 'flotation'],
    { description: 'Notation of the size.' },
  ),
  construction: choice(['radial', 'diagonal', 'bias-belted'], {
    description: 'Construction of the carcass.',
  }),
  rimDiameter: ref(Length, 'Nominal diameter of the rim.'),
  lightTruck: Type.Boolean({ description: 'Whether it is marked as a light-truck tire, LT or C.' }),
  sectionWidth: Type.Optional(ref(Length, 'Nominal section width; absent where the size does not give it.')),
  aspectPercent: Type.Optional(
    plain({ minimum: 1, maximum: 200, description: 'Section height over width [%].' }),
  ),
  loadIndex: Type.Optional(count({ minimum: 0, maximum: 300, description: 'Load index.' })),
  speedSymbol: Type.Optional(
    Type.String({ description: 'Speed symbol, the letter for the highest speed of the tire.' }),
  ),
  marks: Type.Optional(
    Type.Array(Type.String(), { maxItems: 10, description: 'Further marks, as written.' }),
  ),
})

export const TireGeometryRequest = named(
  'TireGeometryRequest',
  Type.Object(
    { tire: ref(Tire, 'The tire, by its size or by a measurement.') },
    {
      additionalProperties: false,
      examples: [
        { tire: { size: '195/70R14', wear: { mm: 3 } } },
        { tire: { overallDiameter: { in: 25.6, plusMinus: 0.1 }, construction: 'radial' } },
        { tire: { rollingCircumference: { mm: 1985, plusMinus: 4 } } },
      ],
    },
  ),
)

export const DiameterRange = rangedOut(
  'DiameterRange',
  Length,
  'A diameter, with the smallest and largest that the size and its wear allow.',
  {
    min: 'Smallest diameter that the size and its wear allow.',
    max: 'Largest diameter that the size and its wear allow.',
  },
)

export const TireGeometryAnswer = calculationAnswer(
  'TireGeometryAnswer',
  'Geometry of a tire; what cannot be known from the input is absent.',
  {
    rollingCircumference: ref(Length, 'Distance that the loaded tire rolls in one turn.'),
    turns: ref(PerDistance, 'Turns of the loaded tire per distance.'),
    basis: choice(['formula', 'table', 'measured'], {
      description:
        'What the answer is based on: a formula on the size, a table row, or a measurement of the caller.',
    }),
    budget: listOf(
      BudgetLine,
      20,
      'What the uncertainty of the rolling circumference comes from, largest first.',
    ),
    size: Type.Optional(ref(ParsedSize, 'The parts of the size; absent if no size was given.')),
    sectionHeight: Type.Optional(
      ref(
        Length,
        'Height of the section, from rim to tread; absent where neither size nor diameter gives it.',
      ),
    ),
    overallDiameter: Type.Optional(
      ref(
        DiameterRange,
        'Overall diameter, unloaded; absent when it cannot be known from a rolling circumference or turns.',
      ),
    ),
    freeCircumference: Type.Optional(
      ref(
        Length,
        'Circumference of the unloaded tire: pi times its diameter. Absent without overallDiameter.',
      ),
    ),
    freeOverRollingPercent: Type.Optional(
      Type.Number({
        description:
          'By how much the circle of the unloaded tire is longer than the rolling circumference [%]: the error of arithmetic with pi times the diameter.',
        'x-dimensionless': true,
      }),
    ),
  },
)

export const TireSizeQuery = Type.Object(
  { size: SizeText, construction: Type.Optional(SizeConstruction) },
  {
    additionalProperties: false,
    examples: [{ size: '195/70R14' }, { size: '165SR15' }, { size: '155-13', construction: 'radial' }],
  },
)

export const RolloutRequest = named(
  'RolloutRequest',
  Type.Object(
    {
      runs: Type.Array(
        Type.Object(
          {
            wheelTurns: plain({
              minimum: 0.25,
              maximum: 10_000,
              description: 'Turns of the wheel, whole or not.',
            }),
            distance: ref(DistanceIn, 'Distance rolled in these turns, with its uncertainty.', 'distance'),
          },
          { additionalProperties: false, description: 'One run.' },
        ),
        {
          minItems: 1,
          maxItems: 100,
          description: 'Runs on the ground, loaded, at the pressure the maker gives.',
        },
      ),
    },
    {
      additionalProperties: false,
      examples: [
        {
          runs: [
            { wheelTurns: 10, distance: { m: 19.86, plusMinus: 0.01 } },
            { wheelTurns: 10, distance: { m: 19.84, plusMinus: 0.01 } },
            { wheelTurns: 10, distance: { m: 19.87, plusMinus: 0.01 } },
          ],
        },
      ],
    },
  ),
)

export const RolloutAnswer = calculationAnswer('RolloutAnswer', 'Rolling circumference from roll-outs.', {
  rollingCircumference: ref(Length, 'Distance that the loaded tire rolls in one turn, mean of the runs.'),
  turns: ref(PerDistance, 'Turns of the loaded tire per distance.'),
  runs: Type.Array(
    Type.Object(
      {
        circumference: ref(Length, 'Rolling circumference of this run.'),
        residual: ref(Length, 'This run less the mean.'),
        outlier: Type.Boolean({ description: 'Whether the run is an outlier.' }),
      },
      { additionalProperties: false, description: 'One run.' },
    ),
    { maxItems: 100, description: 'Each run, in the order given.' },
  ),
  budget: listOf(BudgetLine, 20, 'What the uncertainty comes from, largest first.'),
})

export const ComparisonRequest = named(
  'ComparisonRequest',
  Type.Object(
    {
      from: ref(Tire, 'The tire with which the dial reads true.'),
      to: Type.Array(ref(Tire), { minItems: 1, maxItems: 50, description: 'Tires to compare with it.' }),
      speeds: Type.Array(ref(SpeedIn, undefined, 'speed'), {
        minItems: 1,
        maxItems: 200,
        description: 'Speeds at which to compare.',
      }),
    },
    {
      additionalProperties: false,
      examples: [
        {
          from: { size: '165R13' },
          to: [{ size: '175/70R13' }, { size: '185/70R13' }],
          speeds: [{ kmh: 50 }, { kmh: 100 }],
        },
      ],
    },
  ),
)

export const ComparisonAnswer = calculationAnswer(
  'ComparisonAnswer',
  'Effect of other tires on a dial that read true.',
  {
    from: ref(Length, 'Rolling circumference of the tire with which the dial reads true.'),
    to: Type.Array(
      Type.Object(
        {
          rollingCircumference: ref(Length, 'Rolling circumference of this tire.'),
          changePercent: Type.Number({
            description: 'Change of the rolling circumference [%].',
            'x-dimensionless': true,
          }),
          changePlusMinusPercent: Type.Number({
            description: 'Uncertainty of changePercent, 95 % [percentage points].',
            'x-dimensionless': true,
          }),
          odometerErrorPercent: Type.Number({
            description: 'Error of the odometer [%].',
            'x-dimensionless': true,
          }),
          indicatedPerTrue: ref(
            Ratio,
            'Indicated over true speed with this tire: above 1 the dial over-reads.',
          ),
          speeds: Type.Array(
            Type.Object(
              {
                speed: ref(Speed, 'The speed.'),
                trueWhenIndicated: ref(Speed, 'True speed when the dial shows it.'),
                indicatedWhenTrue: ref(Speed, 'What the dial shows when it is the true speed.'),
              },
              { additionalProperties: false, description: 'One speed.' },
            ),
            { maxItems: 200, description: 'Each speed, in the order given.' },
          ),
        },
        { additionalProperties: false, description: 'One candidate.' },
      ),
      { maxItems: 50, description: 'Each candidate, in the order given.' },
    ),
  },
)
