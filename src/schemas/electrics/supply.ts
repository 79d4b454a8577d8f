import { Type } from '@sinclair/typebox'
import { calculationAnswer } from '../answers.js'
import { assumptions } from '../assumptions.js'
import { Current, Energy, Power, Voltage } from '../measures.js'
import { closed, listOf, named, ref } from '../named-shapes.js'
import { choice, plain } from '../plain-values.js'
import { lineText } from '../texts.js'
import { CurrentIn, EnergyIn, VoltageIn, VoltageRatingIn } from './quantities.js'
import { budget } from './verdicts.js'

export const SupplyRequest = named(
  'SupplyRequest',
  Type.Object(
    {
      system: choice(['6-volt', '12-volt', '24-volt'], { description: 'Electrical system of the car.' }),
      code: Type.Optional(
        choice(['A', 'B', 'C', 'D', 'E', 'F', 'G', 'H'], {
          description:
            'Code of the lowest supply: A 6, B 8, C 9, D 10.5 V for 12 V; E 10, F 16, G 22, H 18 V for 24 V. Left out: C, or F.',
        }),
      ),
      supply: Type.Optional(
        ref(
          VoltageIn,
          'Voltage at which the car runs most of the time; left out: the nominal one of the system.',
          'supply',
        ),
      ),
      loads: Type.Array(
        Type.Object(
          {
            name: lineText(80, 'The load.', { examples: ['display'] }),
            current: ref(CurrentIn, 'Current that the load draws, at its own supply.', 'load {n}: {name}'),
            feed: choice(['battery', 'converter'], {
              description: 'Fed by the battery as it is, or behind the converter.',
            }),
          },
          closed,
        ),
        { minItems: 1, maxItems: 40, description: 'The loads, each with its current.' },
      ),
      converter: Type.Optional(
        Type.Object(
          {
            kind: choice(['step-down', 'linear'], { description: 'Switching or linear.' }),
            output: ref(VoltageIn, 'Output voltage of the converter.', 'converter: output'),
            efficiencyPercent: Type.Optional(
              plain({
                minimum: 10,
                maximum: 100,
                description: 'Efficiency of a step-down converter [%]; left out: 85, from 80 to 90.',
              }),
            ),
            efficiencyPlusMinusPercent: Type.Optional(
              plain({
                minimum: 0,
                maximum: 50,
                description:
                  'Uncertainty of the efficiency, 95 % [percentage points]; left out: taken as exact.',
              }),
            ),
            ownCurrent: Type.Optional(
              ref(
                CurrentIn,
                'Current that the converter itself draws, beyond what its efficiency covers; left out: none.',
                'converter: own current',
              ),
            ),
            dropout: Type.Optional(
              ref(
                VoltageIn,
                'Least difference of input and output voltage at which it regulates; left out: 2 V for a linear converter, 1 V for a step-down one.',
                'converter: dropout',
              ),
            ),
            minInput: Type.Optional(
              ref(VoltageRatingIn, 'Lowest input voltage by the data sheet; left out: output plus dropout.'),
            ),
            maxInput: Type.Optional(
              ref(
                VoltageRatingIn,
                'Highest steady input voltage by the data sheet; left out: checks that need it are not-known.',
              ),
            ),
            peakInput: Type.Optional(
              ref(
                VoltageRatingIn,
                'Highest input voltage for the length of a load dump; left out: maxInput.',
              ),
            ),
            reversedInput: Type.Optional(
              ref(
                VoltageRatingIn,
                'Reversed input voltage that it withstands; left out: the check is not-known.',
              ),
            ),
            clamp: Type.Optional(
              ref(
                VoltageRatingIn,
                'Clamping voltage of the suppressor ahead of it; left out: there is none.',
              ),
            ),
            clampEnergy: Type.Optional(
              ref(
                EnergyIn,
                'Energy that the suppressor can absorb in one load dump; needs clamp. Left out: the check is not-known.',
              ),
            ),
          },
          {
            ...closed,
            dependentRequired: {
              efficiencyPlusMinusPercent: ['efficiencyPercent'],
              clampEnergy: ['clamp'],
            },
            dependentSchemas: { efficiencyPercent: { properties: { kind: { enum: ['step-down'] } } } },
            description:
              'Converter with the ratings of its data sheet, needed by a load with feed converter: input range, peak for the length of a load dump, reversed input; clamp: the clamping voltage of a suppressor ahead of it.',
          },
        ),
      ),
      wireRating: Type.Optional(
        ref(
          CurrentIn,
          'Current that the feeding wire carries continuously; left out: no maxFuse.',
          'wire: current capacity',
        ),
      ),
    },
    {
      ...closed,
      dependentSchemas: {
        loads: {
          anyOf: [
            { required: ['converter'] },
            { properties: { loads: { items: { properties: { feed: { enum: ['battery'] } } } } } },
          ],
        },
      },
      description: 'Loads on a car’s supply, with the converter between them.',
      examples: [
        {
          system: '12-volt',
          loads: [{ name: 'display', current: { a: 0.5, plusMinus: 0.02 }, feed: 'converter' }],
          converter: {
            kind: 'step-down',
            output: { v: 5 },
            efficiencyPercent: 85,
            minInput: { v: 6.5 },
            maxInput: { v: 40 },
            clamp: { v: 36 },
            clampEnergy: { j: 40 },
          },
        },
        {
          system: '6-volt',
          code: 'B',
          supply: { v: 6.8, plusMinus: 0.4 },
          loads: [
            { name: 'sensor', current: { ma: 15 }, feed: 'battery' },
            { name: 'lamp', current: { a: 1.2, plusMinus: 0.1 }, feed: 'battery' },
          ],
          wireRating: { a: 9 },
        },
      ],
    },
  ),
)

const SupplyPoint = named(
  'SupplyPoint',
  Type.Object(
    {
      at: choice(['lowest', 'normal', 'highest'], { description: 'Where in the supply range.' }),
      supply: ref(Voltage, 'Supply voltage there.'),
      current: ref(Current, 'Current drawn from the battery there.'),
      converterHeat: ref(Power, 'Heat in the converter there.'),
    },
    { ...closed, description: 'Input current and heat at one supply voltage.' },
  ),
)

const SupplyCheck = named(
  'SupplyCheck',
  Type.Object(
    {
      kind: choice(
        [
          'lowest-supply',
          'highest-supply',
          'load-dump',
          'suppressed-load-dump',
          'jump-start',
          'reversed-battery',
          'starting-dip',
          'starting-cranking',
        ],
        { description: 'Condition of the supply.' },
      ),
      required: ref(Voltage, 'Voltage that must be withstood, or at which it must still work.'),
      result: choice(['passes', 'fails', 'not-known'], {
        description: 'not-known: a rating that the check needs was not given.',
      }),
      text: Type.String({ description: 'The check, for people.' }),
      rated: Type.Optional(ref(Voltage, 'Rating that was compared; absent where it was not given.')),
      level: Type.Optional(Type.String({ description: 'Level of the starting profile, I to IV.' })),
    },
    { ...closed, description: 'One level of the standard against the ratings.' },
  ),
)

const ClampDuty = named(
  'ClampDuty',
  Type.Object(
    {
      peakCurrent: ref(Current, 'Peak current through the suppressor.'),
      peakPower: ref(Power, 'Peak power in the suppressor.'),
      energy: ref(Energy, 'Energy that it absorbs.'),
    },
    { ...closed, description: 'What a suppressor takes in one load dump.' },
  ),
)

export const SupplyAnswer = calculationAnswer('SupplyAnswer', 'Supply of the electronics from the car.', {
  outputCurrent: ref(Current, 'Current of the loads behind the converter.'),
  points: listOf(SupplyPoint, 3, 'Over the range of the supply.'),
  largestCurrent: ref(Current, 'Largest current from the battery over the range of the supply.'),
  checks: listOf(
    SupplyCheck,
    20,
    'Ratings of the converter against the standard; empty without a converter.',
  ),
  budget,
  assumptions,
  minFuse: Type.Optional(
    ref(
      Current,
      'Smallest standard fuse that carries the largest current at 75 % of its rating; absent when none is large enough.',
    ),
  ),
  maxFuse: Type.Optional(
    ref(
      Current,
      'Largest standard fuse that protects the wire; absent without wireRating, or when none is small enough.',
    ),
  ),
  clampDuty: Type.Optional(
    Type.Object(
      {
        mildest: ref(ClampDuty, 'In the mildest load dump of the standard.'),
        worst: ref(ClampDuty, 'In the worst load dump of the standard.'),
      },
      { ...closed, description: 'Duty of the suppressor over the range of the standard’s load dumps.' },
    ),
  ),
})
