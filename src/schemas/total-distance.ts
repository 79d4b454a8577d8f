import { Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { Distance, DistanceIn, RatioIn } from './measures.js'
import { listOf, named, ref } from './named-shapes.js'
import { count } from './plain-values.js'

export const OdometerPeriod = named(
  'OdometerPeriod',
  Type.Union([
    Type.Object(
      {
        indicated: ref(DistanceIn, 'Distance that the odometer counted.', 'period {n}: indicated distance'),
        odometerPerTrue: Type.Optional(
          ref(
            RatioIn,
            'Odometer ÷ true distance, from POST /v1/odometers/error or a measured road; above 1 it over-reads. Left out: 1.',
            'period {n}: odometer ÷ true distance',
          ),
        ),
      },
      { additionalProperties: false, title: 'by the odometer' },
    ),
    Type.Object(
      {
        trip: ref(DistanceIn, 'True length of a trip.', 'period {n}: trip'),
        trips: count({ minimum: 1, maximum: 100_000, description: 'How often it was driven.' }),
      },
      { additionalProperties: false, title: 'while the odometer stood still' },
    ),
  ]),
)

export const TotalDistanceRequest = named(
  'TotalDistanceRequest',
  Type.Object(
    {
      periods: Type.Array(ref(OdometerPeriod), {
        minItems: 1,
        maxItems: 50,
        description:
          'Join periods with the same error of the odometer: those given apart count as independent.',
      }),
    },
    {
      additionalProperties: false,
      examples: [
        {
          periods: [
            { indicated: { mi: 41_200 } },
            { indicated: { mi: 6300 }, odometerPerTrue: { value: 1.05, plusMinus: 0.01 } },
            { trip: { mi: 7.4, plusMinus: 0.1 }, trips: 36 },
          ],
        },
      ],
    },
  ),
)

export const TotalDistanceAnswer = calculationAnswer('TotalDistanceAnswer', 'True distance over periods.', {
  trueDistance: ref(Distance, 'True distance of all periods.'),
  budget: listOf(BudgetLine, 100, 'Shares of uncertainty, largest first.'),
})
