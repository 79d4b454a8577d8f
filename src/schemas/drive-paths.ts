import { Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { Head, Stage } from './drive-stages.js'
import { RuleIn, SpeedTableRow, Verdict } from './gauges.js'
import { PerDistance, Ratio, SpeedIn } from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { choice, plainOut } from './plain-values.js'
import { Tire } from './tires.js'

const stages = listOf(Stage, 20, 'Stages from wheel to dial; none: the wheel drives the head.')
const speeds = Type.Array(ref(SpeedIn, undefined, 'speed'), {
  minItems: 1,
  maxItems: 200,
  description: 'True speeds for which the answer has a row.',
})
export const Rules = Type.Optional(listOf(RuleIn, 20, 'Rules to judge by.'))

export const EXAMPLE_CAR = {
  tire: { size: '195/70R14' },
  stages: [
    { kind: 'final-drive', ratio: 3.7 },
    { kind: 'gear-pair', name: 'speedometer drive', teeth: { driving: 7, driven: 20 } },
  ],
}
export const EXAMPLE_HEAD = {
  input: 'turns',
  constant: { perMile: 1000 },
  unit: 'mph',
  dialMax: { mph: 120 },
}

export const EvaluationRequest = named(
  'EvaluationRequest',
  Type.Object(
    {
      tire: ref(Tire, 'The tire on the driven wheels.'),
      stages,
      head: Type.Optional(
        ref(
          Head,
          'The head at the end of the path; left out: only what the path delivers is computed, no reading.',
        ),
      ),
      speeds,
      rules: Rules,
    },
    {
      additionalProperties: false,
      examples: [
        { ...EXAMPLE_CAR, head: EXAMPLE_HEAD, speeds: [{ mph: 30 }, { mph: 60 }], rules: ['un-r39'] },
        {
          tire: { rollingCircumference: { mm: 1885, plusMinus: 5 } },
          stages: [{ kind: 'pulse-ring', pulsesPerTurn: 8 }],
          head: { input: 'pulses', constant: { perKm: 4000 }, unit: 'kmh' },
          speeds: [{ kmh: 50 }, { kmh: 100 }],
        },
      ],
    },
  ),
)

export const Shaft = shape(
  'Shaft',
  'Output of the wheel or of a stage: turns per distance, or pulses from a pulse ring on.',
  {
    after: Type.String({ description: 'wheel, or the name of the stage, whose output this is.' }),
    turns: Type.Optional(ref(PerDistance, 'Turns per distance of this shaft; absent from a pulse ring on.')),
    pulses: Type.Optional(ref(PerDistance, 'Pulses per distance; absent before the pulse ring.')),
  },
)

export const EvaluationAnswer = calculationAnswer('EvaluationAnswer', 'A drive path, evaluated.', {
  shafts: listOf(Shaft, 21, 'Output of the wheel, then of each stage.'),
  signal: choice(['turns', 'pulses'], {
    description: 'Whether the path delivers turns or pulses to the head.',
  }),
  stagesRatio: ref(Ratio, 'Product of the stages: output turns or pulses per wheel turn.'),
  output: ref(PerDistance, 'Turns or pulses per distance that the path delivers to the head.'),
  budget: listOf(
    BudgetLine,
    50,
    'What the uncertainty comes from, largest first: of indicatedPerTrue where there is a head, else of output.',
  ),
  table: listOf(SpeedTableRow, 200, 'One row per speed.'),
  verdicts: listOf(
    Verdict,
    20,
    'One verdict for each rule over all its speeds, whichever were asked about: from the lowest that it names, else 10 km/h, to the last mark, else 120 km/h. Empty without a head or rules.',
  ),
  stagesRatioExact: Type.Optional(
    Type.String({
      description:
        'The product of the stages as a ratio of whole numbers, when none of them carries uncertainty.',
    }),
  ),
  required: Type.Optional(
    ref(PerDistance, 'Turns or pulses per distance at which the head reads true; absent without a head.'),
  ),
  indicatedPerTrue: Type.Optional(
    ref(
      Ratio,
      'Indicated over true speed, apart from the offset of the head: above 1 it over-reads. Absent without a head.',
    ),
  ),
  odometerErrorPercent: Type.Optional(plainOut('By how much the odometer over-reads [%].')),
  odometerErrorPlusMinusPercent: Type.Optional(
    plainOut('Uncertainty of odometerErrorPercent, 95 % [percentage points].'),
  ),
})
