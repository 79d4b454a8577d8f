import { type Static, type TNumber, type TOptional, type TUnsafe, Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { ChosenStage, Head, Shaft, Stage } from './drive-paths.js'
import { Filter } from './filters.js'
import { FitEvidence, FitResult } from './fits.js'
import { RuleIn, SpeedTableRow, Verdict } from './gauges.js'
import {
  CorrelationIn,
  choice,
  count,
  named,
  PerDistance,
  PerDistanceIn,
  plain,
  plainOut,
  Ratio,
  RatioIn,
  ref,
  SetPerDistanceIn,
  SetSpeedIn,
  SetTimeIn,
  Speed,
  SpeedDifferenceIn,
} from './measures.js'
import { lineText, longText } from './texts.js'
import { Tire } from './tires.js'

/** How pulses become a reading. */
export const PulseTiming = named(
  'PulseTiming',
  Type.Object(
    {
      zeroTimeout: Type.Optional(
        ref(SetTimeIn, 'Time without a pulse after which zero is shown; left out: no lowestSpeedShown.'),
      ),
      timerTick: Type.Optional(
        ref(
          SetTimeIn,
          'Time of one tick of the timer that measures pulse periods; left out: no resolutionAtTopSpeed.',
        ),
      ),
      filter: Type.Optional(ref(Filter, 'Filter of the readings; left out: none.')),
    },
    {
      additionalProperties: false,
      description:
        'Timing of an electronic reading: after zeroTimeout without a pulse it shows zero; timerTick is the step of its timer; filter smooths it.',
    },
  ),
)

/** What was to be expected when something was measured. */
const ComputedPath = named(
  'ComputedPath',
  Type.Object(
    {
      output: Type.Optional(
        ref(
          SetPerDistanceIn,
          'Output of the path as computed then; left out: a later change is not noticed by the output.',
        ),
      ),
      indicatedPerTrue: Type.Optional(
        plain({ minimum: 0.001, maximum: 10_000, description: 'Indicated per true speed.' }),
      ),
    },
    {
      additionalProperties: false,
      description:
        'Output and reading computed from tire, stages and head at the time of the measurement. If they now differ by more than 0.1 %, a tire, gear or head was changed since: the measurement is not used, and a finding says so. Applying a calibration sets this; usually you need not.',
    },
  ),
)

/** What was measured on this car and takes the place of what is computed from its parts. */
export const MeasuredPath = named(
  'MeasuredPath',
  Type.Object(
    {
      output: Type.Optional(
        ref(
          PerDistanceIn,
          'Turns or pulses per distance of the path, counted over a known distance; replaces what tire and stages give. Left out: computed from them.',
          '{name}: measured output',
        ),
      ),
      indicatedPerTrue: Type.Optional(
        ref(
          RatioIn,
          'Indicated over true speed, from a calibration on the road; replaces the whole computed reading. Left out: computed.',
          '{name}: measured indicatedPerTrue',
        ),
      ),
      offset: Type.Optional(
        ref(
          SpeedDifferenceIn,
          'Constant error from the same calibration; counts beside indicatedPerTrue only. Left out: none.',
          '{name}: measured offset',
        ),
      ),
      correlation: Type.Optional(CorrelationIn),
      computed: Type.Optional(
        ref(
          ComputedPath,
          'What tire, stages and head computed to when it was measured; left out: a later change of one of them is not noticed.',
        ),
      ),
    },
    {
      additionalProperties: false,
      description:
        'Measured on this car. output (turns or pulses counted over a known distance) replaces what tire and stages give; indicatedPerTrue and offset (from a calibration) replace the whole computed reading, with the error of the head: without offset the reading has none.',
    },
  ),
)

export const VehiclePath = named(
  'VehiclePath',
  Type.Object(
    {
      name: lineText(80, 'Name of the path, for example speedometer; unique in the vehicle.'),
      axle: choice(['front', 'rear'], { description: 'Axle whose wheels drive it.' }),
      stages: Type.Array(ref(Stage), { maxItems: 20, description: 'Stages from wheel to dial.' }),
      head: ref(Head, 'The head at the end of the path.'),
      pulse: Type.Optional(
        ref(
          PulseTiming,
          'Timing of an electronic reading. Left out: no lowestSpeedShown and no resolutionAtTopSpeed.',
        ),
      ),
      measured: Type.Optional(
        ref(MeasuredPath, 'What was measured on this path; left out: everything is computed from its parts.'),
      ),
    },
    { additionalProperties: false, description: 'One drive path of a vehicle, from an axle to a dial.' },
  ),
)

const EXAMPLE_CABLE = {
  reference: 'JOB-1042',
  name: 'Tarvenna Ostrel saloon, blue',
  make: 'Tarvenna',
  model: 'Ostrel',
  year: 1968,
  tires: { front: { size: '165R13' }, rear: { size: '175/70R13' } },
  paths: [
    {
      name: 'speedometer',
      axle: 'rear',
      stages: [
        { kind: 'final-drive', ring: 37, pinion: 9 },
        { kind: 'gear-pair', name: 'speedometer drive', teeth: { driving: 6, driven: 20 } },
      ],
      head: { input: 'turns', constant: { perMile: 1000 }, unit: 'mph', dialMax: { mph: 100 } },
    },
  ],
  rule: 'un-r39',
  topSpeed: { mph: 85 },
}

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

const RemedyCost = named(
  'RemedyCost',
  Type.Object(COST, {
    additionalProperties: false,
    description: 'What a kind of remedy costs, as far as it is known.',
  }),
)

/** What remedies cost, where the caller knows. */
const RemedyCosts = named(
  'RemedyCosts',
  Type.Object(
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
    {
      additionalProperties: false,
      description: 'Costs by remedy: between remedies that are equally good the cheaper comes first.',
    },
  ),
)

const PROFILE = {
  name: lineText(200, 'Name of the vehicle.'),
  tires: Type.Object(
    { front: ref(Tire, 'Tire on the front wheels.'), rear: ref(Tire, 'Tire on the rear wheels.') },
    { additionalProperties: false, description: 'The tires fitted.' },
  ),
  paths: Type.Array(ref(VehiclePath), {
    minItems: 1,
    maxItems: 8,
    description: 'Its drive paths, each from an axle to a dial: usually one, for the speedometer.',
  }),
  rule: ref(
    RuleIn,
    'The rule on accuracy that the vehicle is checked against; GET /v1/gauges/rules lists them.',
  ),
  reference: Type.Optional(
    lineText(100, 'Your own reference, for example the number of a job ticket; unique in the account.'),
  ),
  make: Type.Optional(lineText(80, 'Make.')),
  model: Type.Optional(lineText(80, 'Model.')),
  year: Type.Optional(count({ minimum: 1885, maximum: 2100, description: 'Year of manufacture.' })),
  topSpeed: Type.Optional(
    ref(
      SetSpeedIn,
      'Highest speed of the vehicle; ends the speeds that are judged. Left out: dialMax of the head, else 120 km/h.',
    ),
  ),
  speeds: Type.Optional(
    Type.Array(ref(SetSpeedIn), {
      minItems: 1,
      maxItems: 14,
      description:
        'True speeds of the tables, in this order; left out: the round ones of each dial up to topSpeed, else dialMax, else 120 km/h. The verdict covers every speed of the rule, and the remedies are based on the round ones, whatever is given.',
    }),
  ),
  costs: Type.Optional(ref(RemedyCosts, 'What remedies cost; left out: costs play no part in their order.')),
  notes: Type.Optional(longText(10_000, 'Notes.')),
}

/** A vehicle as a club or shop keeps it. */
export const VehicleProfile = named(
  'VehicleProfile',
  Type.Object(PROFILE, {
    additionalProperties: false,
    description: 'A vehicle: tires, drive paths, and the rule it is judged by.',
    examples: [EXAMPLE_CABLE, { ...EXAMPLE_CABLE, speeds: [{ mph: 30 }, { mph: 70 }] }],
  }),
)

const CorrelationAfter = plainOut('Correlation coefficient of scale and offset [-1..1].')

const HeadAfter = named(
  'HeadAfter',
  Type.Object(
    {
      constant: ref(PerDistance, 'Turns or pulses per distance at which the head reads true.'),
      scalePercent: plainOut('Its own error of scale [%].'),
      scalePercentPlusMinus: plainOut('Uncertainty of scalePercent, 95 % [percentage points].'),
      offset: ref(Speed, 'Its own constant error.'),
      correlation: CorrelationAfter,
    },
    {
      additionalProperties: false,
      description:
        'What the profile is to say of the head afterwards. Recalibration sets the dial and leaves the odometer as it is: the constant stays, and scalePercent is then the error of the dial against it.',
    },
  ),
)

const ComputedAfter = named(
  'ComputedAfter',
  Type.Object(
    {
      output: Type.Optional(ref(PerDistance, 'Output of the path as computed afterwards.')),
      indicatedPerTrue: Type.Optional(plainOut('Indicated per true speed.')),
    },
    {
      additionalProperties: false,
      description: 'The value of computed afterwards, so that the measurement still counts.',
    },
  ),
)

export const MeasuredAfter = named(
  'MeasuredAfter',
  Type.Object(
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
    {
      additionalProperties: false,
      description:
        'The measured values of the path that still hold afterwards, as far as is known before a new measurement; a value that no longer holds is absent.',
    },
  ),
)

export const Remedy = named(
  'Remedy',
  Type.Object(
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
      verdicts: Type.Array(ref(Verdict), {
        maxItems: 20,
        description: 'Verdicts afterwards, over all speeds of the rule.',
      }),
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
    {
      additionalProperties: false,
      description:
        'One way to put a reading right: put stage, head and measured into the profile after the repair; constant is the number to which the head is set or recalibrated. measure-rolling-circumference changes nothing on the car: its figures are those of a roll-out that confirms the estimate to ± 0.5 %, and the other remedies are ranked as if it did.',
    },
  ),
)

export const Finding = named(
  'Finding',
  Type.Object(
    {
      code: Type.String({ description: 'Code of the finding, for programs.' }),
      level: choice(['fail', 'caution', 'info'], {
        description:
          'fail: a rule is not met, or something does not work. caution: not proven, or needs attention. info: good to know.',
      }),
      text: Type.String({ description: 'What was found, for people.' }),
      pointer: Type.String({ description: 'Field of the profile that it concerns, as a JSON Pointer.' }),
      remedy: Type.Optional(Type.String({ description: 'What to do about it.' })),
    },
    { additionalProperties: false, description: 'A fact about the vehicle that affects its readings.' },
  ),
)

export const CheckedPath = named(
  'CheckedPath',
  Type.Object(
    {
      name: Type.String({ description: 'Name of the path.' }),
      basis: choice(['computed', 'measured-output', 'measured-reading'], {
        description:
          'What the reading is based on: computed from the parts, measured turns or pulses, or a calibration of the whole.',
      }),
      shafts: Type.Array(ref(Shaft), {
        maxItems: 21,
        description: 'Output of the wheel, then of each stage.',
      }),
      output: ref(PerDistance, 'Turns or pulses per distance that reach the head.'),
      required: ref(PerDistance, 'Turns or pulses per distance at which the head reads true.'),
      indicatedPerTrue: ref(
        Ratio,
        'Indicated over true speed, apart from the offset: above 1 it over-reads.',
      ),
      odometerErrorPercent: plainOut('By how much the odometer over-reads [%].'),
      odometerErrorPlusMinusPercent: plainOut(
        'Uncertainty of odometerErrorPercent, 95 % [percentage points].',
      ),
      table: Type.Array(ref(SpeedTableRow), {
        maxItems: 200,
        description: 'What the dial reads at each true speed.',
      }),
      verdicts: Type.Array(ref(Verdict), {
        maxItems: 20,
        description: 'Verdict by the rule, over all its speeds up to topSpeed, else dialMax, else 120 km/h.',
      }),
      budget: Type.Array(ref(BudgetLine), {
        maxItems: 50,
        description: 'What the uncertainty of indicatedPerTrue comes from, largest first.',
      }),
      cableTurns: Type.Optional(
        ref(PerDistance, 'Turns per distance of the cable into the head; absent where pulses reach it.'),
      ),
      pulses: Type.Optional(
        ref(PerDistance, 'Pulses per distance into the head; absent where a cable drives it.'),
      ),
      lowestSpeedShown: Type.Optional(
        ref(
          Speed,
          'Lowest speed that is shown before the zero timeout; absent without pulses or zeroTimeout.',
        ),
      ),
      resolutionAtTopSpeed: Type.Optional(
        ref(
          Speed,
          'Speed step that one timer tick makes at top speed; absent without pulses or timerTick, or when a pulse period is shorter than a tick.',
        ),
      ),
    },
    {
      additionalProperties: false,
      description:
        'One drive path, checked. resolutionAtTopSpeed is the step of true speed that one step of the timer makes at the top speed.',
    },
  ),
)

export const VehicleCheckAnswer = calculationAnswer(
  'VehicleCheckAnswer',
  'A vehicle, checked from wheel to dial.',
  {
    paths: Type.Array(ref(CheckedPath), {
      maxItems: 8,
      description: 'Each path, in the order of the profile.',
    }),
    findings: Type.Array(ref(Finding), { maxItems: 200, description: 'Most severe first.' }),
    remedies: Type.Array(ref(Remedy), { maxItems: 100, description: 'Best first.' }),
  },
)

export type VehicleProfileShape = Static<typeof VehicleProfile>
export type VehicleCheckShape = Static<typeof VehicleCheckAnswer>
