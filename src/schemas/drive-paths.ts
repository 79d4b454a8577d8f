import { type Static, type TProperties, Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
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
  SetSpeedIn,
  SpeedDifferenceIn,
  SpeedIn,
} from './measures.js'
import { lineText } from './texts.js'
import { Tire } from './tires.js'

const teethCount = (description: string) => count({ minimum: 1, maximum: 1000, description })

export const Teeth = named(
  'Teeth',
  Type.Object(
    {
      driving: teethCount('Teeth of the driving gear.'),
      driven: teethCount('Teeth of the driven gear.'),
    },
    {
      additionalProperties: false,
      description: 'Two meshing gears: driven turns = driving turns x driving / driven.',
    },
  ),
)

const StageName = Type.Optional(
  lineText(
    80,
    'Name of the stage in answers. Left out: its place and kind, for example stage 1 (final-drive).',
  ),
)

const stage = <K extends string, T extends TProperties>(kind: K, title: string, fields: T) =>
  Type.Object(
    {
      kind: choice([kind], {
        description: 'Kind of stage.',
      }),
      ...fields,
      name: StageName,
    },
    { additionalProperties: false, title },
  )

const byRatio = {
  ratio: ref(
    RatioIn,
    'Output turns per input turn, or pulses out per pulse in; of a final drive propeller-shaft turns per wheel turn.',
    'ratio',
  ),
}
const byTeeth = {
  teeth: ref(Teeth, 'Tooth counts of the pair: driven turns = driving turns x driving / driven.'),
}

const GIVEN_STAGES = [
  stage('final-drive', 'final drive by its ratio', byRatio),
  stage('final-drive', 'final drive by its teeth', {
    ring: teethCount('Teeth of the ring gear.'),
    pinion: teethCount('Teeth of the pinion.'),
  }),
  stage('gear-pair', 'pair of gears', byTeeth),
  stage('angle-drive', 'angle drive by its ratio', byRatio),
  stage('angle-drive', 'angle drive by its teeth', byTeeth),
  stage('adapter', 'ratio adapter by its ratio', byRatio),
  stage('adapter', 'ratio adapter by its teeth', byTeeth),
  stage('transfer-case', 'transfer case by its ratio', byRatio),
  stage('transfer-case', 'transfer case by its teeth', byTeeth),
  stage('pulse-ring', 'pulse ring', {
    pulsesPerTurn: count({ minimum: 1, maximum: 10_000, description: 'Pulses in one turn of the shaft.' }),
  }),
  stage('pulse-scaler', 'pulse scaler by whole numbers', {
    multiply: count({ minimum: 1, maximum: 1_000_000_000, description: 'Pulses out.' }),
    divide: count({ minimum: 1, maximum: 1_000_000_000, description: 'Pulses in.' }),
  }),
  stage('pulse-scaler', 'pulse scaler by its ratio', byRatio),
] as const

/** One stage of the path, in order from wheel to dial. */
export const Stage = named(
  'Stage',
  Type.Union([...GIVEN_STAGES], {
    description:
      'A stage of the drive path, in order from wheel to dial; each multiplies turns, or pulses from a pulse ring on. A final drive gives propeller-shaft turns per wheel turn. Kinds: final-drive, the axle gears; gear-pair, two meshing gears such as those of the speedometer drive; angle-drive, adapter or transfer-case, a box with a ratio; pulse-ring, the ring that a sensor reads; pulse-scaler, electronics that multiply and divide pulses.',
  }),
)

const toothList = (description: string) =>
  Type.Array(teethCount('Teeth.'), { minItems: 1, maxItems: 200, uniqueItems: true, description })

export const Find = named(
  'Find',
  Type.Union(
    [
      Type.Object(
        {
          driving: toothList(
            'Tooth counts of the driving gears to choose from: on the side of the road wheel.',
          ),
          driven: toothList('Tooth counts of the driven gears to choose from: on the side of the dial.'),
        },
        { additionalProperties: false, title: 'a pair out of wheels at hand' },
      ),
      Type.Object(
        {
          ratios: Type.Array(
            plain({ minimum: 0.001, maximum: 10_000, description: 'A ratio to choose from.' }),
            {
              minItems: 1,
              maxItems: 500,
              description: 'Ratios to choose from.',
            },
          ),
        },
        { additionalProperties: false, title: 'one of the ratios at hand' },
      ),
      Type.Object(
        {
          maxTerm: count({
            minimum: 1,
            maximum: 1_000_000,
            description: 'Largest whole number allowed in the ratio.',
          }),
        },
        { additionalProperties: false, title: 'the nearest ratios of small whole numbers' },
      ),
      choice(['exact'], { description: 'Any number.' }),
    ],
    {
      description:
        'What an open stage may be: gears or ratios to choose from, a ratio of whole numbers up to maxTerm, or exact for any number.',
    },
  ),
)

const find = { find: ref(Find, 'What the stage may be; the answer gives the best choices.') }

/** A stage that is known, or one that is looked for. */
export const OpenStage = named(
  'OpenStage',
  Type.Union(
    [
      ...GIVEN_STAGES,
      stage('final-drive', 'final drive to be found', find),
      stage('gear-pair', 'pair of gears to be found', find),
      stage('angle-drive', 'angle drive to be found', find),
      stage('adapter', 'ratio adapter to be found', find),
      stage('transfer-case', 'transfer case to be found', find),
      stage('pulse-scaler', 'pulse scaler to be found', find),
    ],
    { description: 'A stage as in Stage, or with find in place of its ratio.' },
  ),
)

/** The speedometer itself. */
export const Head = named(
  'Head',
  Type.Object(
    {
      input: choice(['turns', 'pulses'], {
        description: 'Signal that drives the head: turns of a shaft, or pulses.',
      }),
      constant: ref(
        PerDistanceIn,
        'Turns or pulses per distance at which the head reads true.',
        'head: constant',
      ),
      unit: choice(['mph', 'kmh'], { description: 'Unit of its dial.' }),
      dialMax: Type.Optional(
        ref(
          SetSpeedIn,
          'Highest mark of its dial; needed by rules that go by it, and the end of the speeds that are judged. Left out: 120 km/h ends them.',
        ),
      ),
      offset: Type.Optional(
        ref(
          SpeedDifferenceIn,
          'Its constant error, indicated less true, at every speed above rest; left out: none.',
          'head: offset',
        ),
      ),
      scalePercent: Type.Optional(
        plain({
          minimum: -50,
          maximum: 100,
          description:
            "The head's own measured error of scale [%]: indicated = input x (1 + scalePercent/100) + offset.",
        }),
      ),
      scalePercentPlusMinus: Type.Optional(
        plain({
          minimum: 0,
          maximum: 50,
          description: 'Uncertainty of scalePercent, 95 % [percentage points].',
        }),
      ),
      correlation: Type.Optional(CorrelationIn),
    },
    {
      additionalProperties: false,
      description:
        'The speedometer: constant is the turns or pulses per distance at which it reads true; offset and scalePercent are its own error, from a calibration.',
    },
  ),
)

const stages = Type.Array(ref(Stage), {
  maxItems: 20,
  description: 'Stages from wheel to dial; none: the wheel drives the head.',
})
const speeds = Type.Array(ref(SpeedIn, undefined, 'speed'), {
  minItems: 1,
  maxItems: 200,
  description: 'True speeds for which the answer has a row.',
})
const rules = Type.Optional(Type.Array(ref(RuleIn), { maxItems: 20, description: 'Rules to judge by.' }))

const CAR = {
  tire: { size: '195/70R14' },
  stages: [
    { kind: 'final-drive', ratio: 3.7 },
    { kind: 'gear-pair', name: 'speedometer drive', teeth: { driving: 7, driven: 20 } },
  ],
}
const HEAD = { input: 'turns', constant: { perMile: 1000 }, unit: 'mph', dialMax: { mph: 120 } }

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
      rules,
    },
    {
      additionalProperties: false,
      examples: [
        { ...CAR, head: HEAD, speeds: [{ mph: 30 }, { mph: 60 }], rules: ['un-r39'] },
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

export const Shaft = named(
  'Shaft',
  Type.Object(
    {
      after: Type.String({ description: 'wheel, or the name of the stage, whose output this is.' }),
      turns: Type.Optional(
        ref(PerDistance, 'Turns per distance of this shaft; absent from a pulse ring on.'),
      ),
      pulses: Type.Optional(ref(PerDistance, 'Pulses per distance; absent before the pulse ring.')),
    },
    {
      additionalProperties: false,
      description: 'Output of the wheel or of a stage: turns per distance, or pulses from a pulse ring on.',
    },
  ),
)

export const EvaluationAnswer = calculationAnswer('EvaluationAnswer', 'A drive path, evaluated.', {
  shafts: Type.Array(ref(Shaft), { maxItems: 21, description: 'Output of the wheel, then of each stage.' }),
  signal: choice(['turns', 'pulses'], {
    description: 'Whether the path delivers turns or pulses to the head.',
  }),
  stagesRatio: ref(Ratio, 'Product of the stages: output turns or pulses per wheel turn.'),
  output: ref(PerDistance, 'Turns or pulses per distance that the path delivers to the head.'),
  budget: Type.Array(ref(BudgetLine), {
    maxItems: 50,
    description:
      'What the uncertainty comes from, largest first: of indicatedPerTrue where there is a head, else of output.',
  }),
  table: Type.Array(ref(SpeedTableRow), { maxItems: 200, description: 'One row per speed.' }),
  verdicts: Type.Array(ref(Verdict), {
    maxItems: 20,
    description:
      'One verdict for each rule over all its speeds, whichever were asked about: from the lowest that it names, else 10 km/h, to the last mark, else 120 km/h. Empty without a head or rules.',
  }),
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
      rules,
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
          head: HEAD,
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
        { ...CAR, stages: [...CAR.stages, { kind: 'adapter', find: 'exact' }], head: HEAD },
      ],
    },
  ),
)

export const ChosenStage = named(
  'ChosenStage',
  Type.Object(
    {
      pointer: Type.String({ description: 'The stage in the request, as a JSON Pointer.' }),
      ratio: plainOut('Ratio of the stage.'),
      teeth: Type.Optional(ref(Teeth, 'Tooth counts chosen; absent where the stage is not a pair of gears.')),
      multiply: Type.Optional(count({ minimum: 1, maximum: 1e9, description: 'Numerator of the ratio.' })),
      divide: Type.Optional(count({ minimum: 1, maximum: 1e9, description: 'Denominator of the ratio.' })),
    },
    { additionalProperties: false, description: 'What was found for a stage.' },
  ),
)

export const SolutionCandidate = named(
  'SolutionCandidate',
  Type.Object(
    {
      stages: Type.Array(ref(ChosenStage), { maxItems: 20, description: 'The stages found, in path order.' }),
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
      verdicts: Type.Array(ref(Verdict), {
        maxItems: 20,
        description: 'One verdict for each rule over all its speeds.',
      }),
    },
    { additionalProperties: false, description: 'One way to fill the open stages.' },
  ),
)

export const SolutionAnswer = calculationAnswer(
  'SolutionAnswer',
  'Ways to fill the open stages of a drive path.',
  {
    exact: plainOut('Product of the open stages at which the head reads true, apart from its offset.'),
    candidates: Type.Array(ref(SolutionCandidate), {
      maxItems: 100,
      description:
        'Best first: within the aim, then over-reading, then under-reading; nearer before farther.',
    }),
    searched: count({
      minimum: 0,
      maximum: Number.MAX_SAFE_INTEGER,
      description: 'Number of combinations that were compared, without those that cannot be among the best.',
    }),
  },
)

export type StageShape = Static<typeof Stage>
export type OpenStageShape = Static<typeof OpenStage>
export type HeadShape = Static<typeof Head>
export type FindShape = Static<typeof Find>
