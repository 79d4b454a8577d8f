import { type Static, type TNumber, type TOptional, type TUnsafe, Type } from '@sinclair/typebox'
import { ChosenStage } from './drive-path-solutions.js'
import { FitEvidence, FitResult } from './fits.js'
import { Verdict } from './gauges.js'
import { PerDistance, Ratio, Speed } from './measures.js'
import { listOf, ref, shape } from './named-shapes.js'
import { choice, plain, plainOut } from './plain-values.js'

const REMEDY_ACTIONS = [
  'measure-rolling-circumference',
  'change-driven-gear',
  'change-driving-gear',
  'change-adapter',
  'add-adapter',
  'change-angle-drive',
  'change-pulse-ring',
  'change-pulse-scaler',
  'set-pulse-scaler',
  'add-pulse-scaler',
  'set-head-constant',
  'set-pointer-zero',
  'change-head',
] as const

const RemedyActionChoice = choice(REMEDY_ACTIONS, { description: 'What to do.' })

const price = (description: string) => plain({ minimum: 0, maximum: 1e9, description })

const COST = {
  price: Type.Optional(price('Price of the parts, in any one currency.')),
  minutes: Type.Optional(
    Type.Number({ minimum: 0, maximum: 1e6, description: 'Time of work [min].', 'x-unit': 'min' }),
  ),
}

const RemedyCost = shape('RemedyCost', 'What a kind of remedy costs, as far as it is known.', COST)

/** What remedies cost, where the caller knows. */
export const RemedyCosts = shape(
  'RemedyCosts',
  'Costs by remedy: between remedies that are equally good the cheaper comes first.',
  {
    pricePerHour: Type.Optional(price('Price of an hour of work, in the same currency.')),
    ...Object.fromEntries(
      REMEDY_ACTIONS.map((action) => [
        action,
        Type.Optional(ref(RemedyCost, `Cost to ${action.replaceAll('-', ' ')}; left out: not known.`)),
      ]),
    ),
  } as Record<(typeof REMEDY_ACTIONS)[number], TOptional<TUnsafe<Static<typeof RemedyCost>>>> & {
    pricePerHour: TOptional<TNumber>
  },
)

const CorrelationAfter = plainOut('Correlation coefficient of scale and offset [-1..1].')

const HeadAfter = shape(
  'HeadAfter',
  'What the profile is to say of the head afterwards. Recalibration sets the dial and leaves the odometer as it is: the constant stays, and scalePercent is then the error of the dial against it.',
  {
    constant: ref(PerDistance, 'Turns or pulses per distance at which the head reads true.'),
    scalePercent: plainOut('Its own error of scale [%].'),
    scalePercentPlusMinus: plainOut('Uncertainty of scalePercent, 95 % [percentage points].'),
    offset: ref(Speed, 'Its own constant error.'),
    correlation: CorrelationAfter,
  },
)

const ComputedAfter = shape(
  'ComputedAfter',
  'The value of computed afterwards, so that the measurement still counts.',
  {
    output: Type.Optional(ref(PerDistance, 'Output of the path as computed afterwards.')),
    indicatedPerTrue: Type.Optional(plainOut('Indicated per true speed.')),
  },
)

export const MeasuredAfter = shape(
  'MeasuredAfter',
  'The measured values of the path that still hold afterwards, as far as is known before a new measurement; a value that no longer holds is absent.',
  {
    output: Type.Optional(
      ref(PerDistance, 'Turns or pulses per distance of the path; absent where it no longer holds.'),
    ),
    indicatedPerTrue: Type.Optional(
      ref(Ratio, 'Indicated over true speed; absent where it no longer holds.'),
    ),
    offset: Type.Optional(ref(Speed, 'Constant error; absent where it no longer holds.')),
    correlation: Type.Optional(CorrelationAfter),
    computed: Type.Optional(ref(ComputedAfter, 'What tire, stages and head compute to afterwards.')),
  },
)

export const Remedy = shape(
  'Remedy',
  'One way to put a reading right: put stage, head and measured into the profile after the repair; constant is the number to which the head is set or recalibrated. measure-rolling-circumference changes nothing on the car: its figures are those of a roll-out that confirms the estimate to ± 0.5 %, and the other remedies are ranked as if it did.',
  {
    path: Type.String({ description: 'Name of the path that it corrects.' }),
    action: RemedyActionChoice,
    pointer: Type.String({ description: 'Field of the profile that it concerns, as a JSON Pointer.' }),
    text: Type.String({ description: 'The remedy in words.' }),
    errorPercent: plainOut(
      'Over-reading afterwards [%], where it is largest of the round speeds of the dial from 20 km/h up; below zero it under-reads.',
    ),
    indicatedPerTrue: ref(
      Ratio,
      'Indicated over true speed afterwards, apart from the offset: above 1 it over-reads.',
    ),
    withinAim: Type.Boolean({
      description:
        'Whether it over-reads by at most 4 % afterwards at each of those speeds, and under-reads at none with a probability above 5 %.',
    }),
    verdicts: listOf(Verdict, 20, 'Verdicts afterwards, over all speeds of the rule.'),
    odometerErrorPercent: plainOut('Error of the odometer afterwards [%].'),
    remains: Type.Array(Type.String({ description: 'An error that remains.' }), {
      maxItems: 10,
      description: 'Errors that remain afterwards, in words.',
    }),
    cautions: Type.Optional(
      Type.Array(Type.String({ description: 'Something to check.' }), {
        maxItems: 10,
        description: 'What to check before doing it.',
      }),
    ),
    stage: Type.Optional(ref(ChosenStage, 'The stage afterwards; absent if no stage changes.')),
    constant: Type.Optional(
      ref(PerDistance, 'Number to set or recalibrate the head to; absent if the head does not change.'),
    ),
    head: Type.Optional(ref(HeadAfter, 'The head afterwards; absent if it does not change.')),
    measured: Type.Optional(
      ref(MeasuredAfter, 'The measured values that still hold afterwards; absent if nothing was measured.'),
    ),
    part: Type.Optional(
      Type.Object(
        {
          id: Type.String({ description: 'Id of the recorded part.' }),
          name: Type.String({ description: 'Its name.' }),
          support: Type.Optional(
            plainOut(
              'How far the fit reports about this make and model support it [0..1]; 0.5: no evidence either way. Absent if there are no reports.',
            ),
          ),
          reports: Type.Optional(
            Type.Array(
              Type.Object(
                {
                  result: FitResult,
                  evidence: FitEvidence,
                  author: Type.String({ description: 'Who says so.' }),
                },
                { additionalProperties: false },
              ),
              {
                maxItems: 20,
                description:
                  'What was reported about this make and model, contradictions included; the first 20.',
              },
            ),
          ),
        },
        {
          additionalProperties: false,
          description:
            'The recorded part that it needs: a candidate, not proven to fit unless a report says so.',
        },
      ),
    ),
    cost: Type.Optional(
      Type.Object(
        {
          ...COST,
          total: Type.Optional(
            plainOut('Parts and work together, as far as they are known, in the currency of costs.'),
          ),
        },
        { additionalProperties: false, description: 'What it costs, from costs of the profile.' },
      ),
    ),
  },
)
