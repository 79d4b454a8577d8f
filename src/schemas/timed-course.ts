import { Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { DistanceIn, Speed, SpeedIn, Time, TimeIn } from './measures.js'
import { listOf, named, ref } from './named-shapes.js'
import { count, plainOut } from './plain-values.js'

export const TimedCourseRequest = named(
  'TimedCourseRequest',
  Type.Object(
    {
      distance: ref(DistanceIn, 'Length of the course.', 'length of the course'),
      times: Type.Array(ref(TimeIn, undefined, 'time'), {
        minItems: 1,
        maxItems: 100,
        description:
          'Times over the course at one steady indicated speed, driven in both directions alternately. Without plusMinus: timed by hand, 0.2 s.',
      }),
      indicated: ref(SpeedIn, 'Speed that the dial showed, held steady over the course.', 'indicated speed'),
    },
    {
      additionalProperties: false,
      examples: [
        {
          distance: { mi: 1, plusMinus: 0.002 },
          times: [{ s: 58.4 }, { s: 58.9 }, { s: 58.6 }, { s: 58.7 }],
          indicated: { mph: 64, plusMinus: 0.5 },
        },
        {
          distance: { m: 1000, plusMinus: 1 },
          times: [{ s: 45.12, plusMinus: 0.1 }],
          indicated: { kmh: 83, plusMinus: 1 },
        },
      ],
    },
  ),
)

const kmh = (description: string) => Type.Number({ description, 'x-unit': 'km/h' })

const ReadingSpeed = Type.Object(
  { kmh: kmh('Value [kilometer per hour].'), plusMinus: kmh('Uncertainty, 95 % [kilometer per hour].') },
  { additionalProperties: false, description: 'A speed in the form of a request.' },
)

/** What the times over a course give. */
const courseSpeed = {
  true: ref(Speed, 'True speed over the course.'),
  error: ref(Speed, 'Indicated less true speed.'),
  errorPercent: plainOut('Indicated minus true, of true [%].'),
  time: ref(Time, 'Mean of the times.'),
  reading: Type.Object(
    { indicated: ReadingSpeed, true: ReadingSpeed },
    {
      additionalProperties: false,
      description: 'The same as one of the readings of a calibration, ready to be sent.',
    },
  ),
}

export const TimedCourseAnswer = calculationAnswer(
  'TimedCourseAnswer',
  'True speed over a measured course.',
  {
    true: courseSpeed.true,
    indicated: ref(Speed, 'Speed that the dial showed, as given.'),
    error: courseSpeed.error,
    errorPercent: courseSpeed.errorPercent,
    time: courseSpeed.time,
    outliers: Type.Array(count({ minimum: 0, maximum: 100_000, description: 'Time, from 0.' }), {
      maxItems: 100,
      description: 'Times that are outliers. The mean includes them.',
    }),
    budget: listOf(BudgetLine, 10, 'What the uncertainty of the true speed comes from.'),
    reading: courseSpeed.reading,
    withoutOutliers: Type.Optional(
      Type.Object(courseSpeed, {
        additionalProperties: false,
        description: 'The same without the outliers. Present when there are any.',
      }),
    ),
  },
)
