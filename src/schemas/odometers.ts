import { type TProperties, Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { Head, Stage } from './drive-stages.js'
import { RuleIn, VerdictResult } from './gauges.js'
import { Distance, DistanceIn, Ratio } from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { plainOut } from './plain-values.js'
import { Tire } from './tires.js'

const odometerRequest = <T extends TProperties>(title: string, fields: T) =>
  Type.Object(
    {
      tire: ref(Tire, 'The tire fitted now.'),
      ...fields,
      indicated: Type.Optional(
        ref(
          DistanceIn,
          'Distance that the odometer recorded, to be corrected; left out: no trueDistance.',
          'indicated distance',
        ),
      ),
      rules: Type.Optional(listOf(RuleIn, 20, 'Rules to judge by.')),
    },
    { additionalProperties: false, title },
  )

export const OdometerErrorRequest = named(
  'OdometerErrorRequest',
  Type.Union(
    [
      odometerRequest('by the tire it was right with', {
        calibratedFor: ref(Tire, 'The tire with which the odometer reads true.'),
      }),
      odometerRequest('by the drive path', {
        stages: listOf(Stage, 20, 'Stages from wheel to dial.'),
        head: ref(Head, 'The head that holds the odometer: its constant is that of the counter too.'),
      }),
    ],
    {
      description:
        'tire is the one fitted; give calibratedFor, or stages and head. indicated is a recorded distance to correct.',
      examples: [
        {
          tire: { size: '185/60R14' },
          calibratedFor: { size: '195/70R14' },
          indicated: { mi: 1000 },
          rules: ['de-odometer'],
        },
        {
          tire: { rollingCircumference: { mm: 1885, plusMinus: 5 } },
          stages: [{ kind: 'pulse-ring', pulsesPerTurn: 8 }],
          head: { input: 'pulses', constant: { perKm: 4000 }, unit: 'kmh' },
          indicated: { km: 250 },
        },
      ],
    },
  ),
)

export const DistanceVerdict = shape('DistanceVerdict', 'A verdict on the odometer.', {
  rule: Type.String({ description: 'Id of the rule.' }),
  result: VerdictResult,
  probability: plainOut('Probability of conformity [0..1].'),
  limitPercent: plainOut('Maximum error, either way [%].'),
})

export const OdometerErrorAnswer = calculationAnswer('OdometerErrorAnswer', 'Error of an odometer.', {
  errorPercent: plainOut('By how much the odometer over-reads [%].'),
  errorPlusMinusPercent: plainOut('Uncertainty of errorPercent, 95 % [percentage points].'),
  odometerPerTrue: ref(Ratio, 'Distance by the odometer over true distance: above 1 it over-reads.'),
  verdicts: listOf(DistanceVerdict, 20, 'One verdict for each rule that limits the odometer.'),
  budget: listOf(BudgetLine, 50, 'What the uncertainty comes from, largest first.'),
  trueDistance: Type.Optional(
    ref(Distance, 'True distance behind the indicated one; absent without indicated.'),
  ),
})
