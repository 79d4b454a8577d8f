import { type Static, type TProperties, Type } from '@sinclair/typebox'
import { CorrelationIn, PerDistanceIn, RatioIn, SetSpeedIn, SpeedDifferenceIn } from './measures.js'
import { named, ref, shape } from './named-shapes.js'
import { choice, count, plain } from './plain-values.js'
import { lineText } from './texts.js'

const teethCount = (description: string) => count({ minimum: 1, maximum: 1000, description })

export const Teeth = shape('Teeth', 'Two meshing gears: driven turns = driving turns x driving / driven.', {
  driving: teethCount('Teeth of the driving gear.'),
  driven: teethCount('Teeth of the driven gear.'),
})

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

/** What goes with scalePercent wherever a head gives it. */
export const headScaleUncertainty = {
  scalePercentPlusMinus: Type.Optional(
    plain({
      minimum: 0,
      maximum: 50,
      description: 'Uncertainty of scalePercent, 95 % [percentage points].',
    }),
  ),
  correlation: Type.Optional(CorrelationIn),
}

/** The speedometer itself. */
export const Head = shape(
  'Head',
  'The speedometer: constant is the turns or pulses per distance at which it reads true; offset and scalePercent are its own error, from a calibration.',
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
    ...headScaleUncertainty,
  },
)

export type StageShape = Static<typeof Stage>
