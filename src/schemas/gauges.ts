import { type TProperties, Type } from '@sinclair/typebox'
import { RULES, type RuleId } from '../domain/gauges/rules.js'
import { STANDINGS } from '../domain/measure/sources.js'
import { BudgetLine, calculationAnswer, Series, SourceIdShape } from './answers.js'
import { headScaleUncertainty } from './drive-stages.js'
import {
  Frequency,
  PerDistanceIn,
  Ratio,
  RatioIn,
  RotationalSpeed,
  SetSpeedIn,
  Speed,
  SpeedDifferenceIn,
  SpeedIn,
} from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { choice, plain, plainOut } from './plain-values.js'
import { Tire } from './tires.js'

const Bound = shape('Bound', 'A bound on indicated minus true: percent of true plus a constant.', {
  percent: plain({
    minimum: -100,
    maximum: 100,
    description: 'Part that grows with the true speed [% of true].',
  }),
  kmh: Type.Number({
    minimum: -100,
    maximum: 100,
    description: 'Constant part [km/h].',
    'x-unit': 'km/h',
  }),
})

export const RuleIdShape = named(
  'RuleId',
  choice(Object.keys(RULES) as RuleId[], { description: 'Id of a rule; GET /v1/gauges/rules explains it.' }),
)

/** A rule of the table, or one of the caller's. */
export const RuleIn = named(
  'Rule',
  Type.Union(
    [
      ref(RuleIdShape),
      Type.Object(
        {
          custom: Type.Object(
            {
              lower: ref(Bound, 'Smallest allowed value of indicated minus true.'),
              upper: ref(Bound, 'Largest allowed value of indicated minus true.'),
              from: Type.Optional(ref(SetSpeedIn, 'True speed from which the bounds apply; left out: any.')),
              to: Type.Optional(ref(SetSpeedIn, 'True speed up to which the bounds apply; left out: any.')),
            },
            {
              additionalProperties: false,
              description: 'Bounds on indicated minus true, from one true speed to another.',
            },
          ),
        },
        { additionalProperties: false, title: "a rule of the caller's" },
      ),
    ],
    { description: 'A rule: an id of the table, or { custom } with bounds.' },
  ),
)

/** What a verdict says. */
export const VerdictResult = choice(['conforms', 'does-not-conform', 'not-proven'], {
  description: 'conforms: probability at least 0.95; does-not-conform: at most 0.05; else not proven.',
})

export const Verdict = shape(
  'Verdict',
  'Whether a rule is met: the worse of the verdicts on speed and odometer. at is the true speed that the verdict is for, the worst one if the whole range of the rule was judged, and limits are the readings allowed there. Both are absent if the odometer decides.',
  {
    rule: Type.String({ description: 'Id of the rule, or custom.' }),
    result: VerdictResult,
    probability: plainOut('Probability of conformity [0..1].'),
    limits: Type.Object(
      {
        lower: Type.Optional(
          ref(Speed, 'Lowest speed that the dial may show there; absent: no lower limit.'),
        ),
        upper: Type.Optional(
          ref(Speed, 'Highest speed that the dial may show there; absent: no upper limit.'),
        ),
      },
      {
        additionalProperties: false,
        description: 'Readings allowed at that true speed; absent if the odometer decides.',
      },
    ),
    at: Type.Optional(
      ref(
        Speed,
        'True speed that result and limits are for, the worst one if a range was judged; absent if the odometer decides.',
      ),
    ),
    distance: Type.Optional(
      Type.Object(
        {
          result: VerdictResult,
          probability: plainOut('Probability of conformity [0..1].'),
          limitPercent: plainOut('Maximum error of the odometer, either way [%].'),
        },
        {
          additionalProperties: false,
          description:
            'Verdict on the odometer; absent if the rule does not limit it or its error is not known.',
        },
      ),
    ),
  },
)

export const SpeedTableRow = shape('SpeedTableRow', 'The reading at one true speed.', {
  true: ref(Speed, 'The true speed.'),
  indicated: Type.Optional(ref(Speed, 'Speed that the dial shows; absent without a head.')),
  error: Type.Optional(ref(Speed, 'Indicated less true speed: positive over-reads. Absent without a head.')),
  errorPercent: Type.Optional(plainOut('Indicated minus true, of true [%].')),
  rpm: Type.Optional(
    ref(RotationalSpeed, 'Rotational speed of the shaft into the head; absent where pulses reach it.'),
  ),
  frequency: Type.Optional(ref(Frequency, 'Pulse frequency into the head; absent where a shaft drives it.')),
  verdicts: Type.Optional(listOf(Verdict, 20, 'One verdict for each rule that holds at this speed.')),
})

const RuleRow = Type.Object(
  {
    id: ref(RuleIdShape, 'Id of the rule.'),
    title: Type.String({ description: 'The rule.' }),
    jurisdiction: Type.String({ description: 'Country or region where it is in force.' }),
    applies: Type.String({ description: 'To which vehicles, and in which range.' }),
    speeds: listOf(Speed, 10, 'Nominal test speeds; empty: none named.'),
    speedsAre: choice(['true', 'indicated'], {
      description: 'Whether the test speeds are true or indicated.',
    }),
    source: ref(SourceIdShape, 'Source of the text of the rule.'),
    standing: choice(STANDINGS, {
      description: 'How well the text behind it is known.',
    }),
    lower: Type.Optional(
      ref(Bound, 'Lower bound on indicated less true; absent: none, or limits at single points.'),
    ),
    upper: Type.Optional(
      ref(Bound, 'Upper bound on indicated less true; absent: none, or limits at single points.'),
    ),
    from: Type.Optional(ref(Speed, 'Lowest speed that the rule covers; absent: any.')),
    to: Type.Optional(ref(Speed, 'Highest speed that the rule covers; absent: any.')),
    fullScalePercent: Type.Optional(plainOut('Upper bound as a share of the last mark of the dial [%].')),
    points: Type.Optional(
      Type.Array(
        Type.Object(
          {
            at: ref(Speed, 'The true speed.'),
            lower: ref(Speed, 'Lowest speed that the dial may show there.'),
            upper: ref(Speed, 'Highest speed that the dial may show there.'),
          },
          { additionalProperties: false, description: 'What the dial may show at one true speed.' },
        ),
        { maxItems: 10, description: 'Limits at single speeds.' },
      ),
    ),
    odometerPercent: Type.Optional(plainOut('Maximum error of the odometer, either way [%].')),
  },
  {
    additionalProperties: false,
    description: 'A rule on how wrong a speedometer or odometer may be.',
  },
)

export const RuleList = shape('RuleList', 'The rule table: a help, not legal advice.', {
  rules: Type.Array(RuleRow, { maxItems: 100, description: 'Every rule of the table.' }),
  caution: Type.String({ description: 'Limits of the table: it is not legal advice.' }),
})

const RULE_LIST = Type.Optional(listOf(RuleIn, 20, 'Rules to judge by.'))
const SPEED_LIST = Type.Array(ref(SpeedIn, undefined, 'speed'), {
  minItems: 1,
  maxItems: 200,
  description: 'True speeds for which the answer has a row.',
})

/** The part of a head that bears on its error alone. */
const DialErrors = shape(
  'DialErrors',
  'The head: only its own error and its last mark bear on this answer.',
  {
    dialMax: Type.Optional(
      ref(
        SetSpeedIn,
        'Highest mark of the dial; needed by rules that go by it, and the end of the speeds that are judged. Left out: 120 km/h ends them.',
      ),
    ),
    offset: Type.Optional(
      ref(
        SpeedDifferenceIn,
        'Constant error of the head, indicated less true, at every speed above rest; left out: none.',
        'head: offset',
      ),
    ),
    scalePercent: Type.Optional(
      plain({ minimum: -50, maximum: 100, description: "The head's own error of scale [%]." }),
    ),
    ...headScaleUncertainty,
    input: Type.Optional(
      choice(['turns', 'pulses'], { description: 'Signal that drives the head; not used here.' }),
    ),
    constant: Type.Optional(
      ref(
        PerDistanceIn,
        'Turns or pulses per distance at which the head reads true; not used here.',
        'head: constant',
      ),
    ),
    unit: Type.Optional(choice(['mph', 'kmh'], { description: 'Unit of its dial; not used here.' })),
  },
)

const errorRequest = <T extends TProperties>(title: string, fields: T) =>
  Type.Object(
    {
      ...fields,
      head: Type.Optional(ref(DialErrors, 'The head, for its own error; left out: it reads true.')),
      speeds: SPEED_LIST,
      rules: RULE_LIST,
    },
    { additionalProperties: false, title },
  )

export const GaugeErrorRequest = named(
  'GaugeErrorRequest',
  Type.Union(
    [
      errorRequest('by the tires', {
        fitted: ref(Tire, 'The tire fitted now.'),
        calibratedFor: ref(Tire, 'The tire with which the dial reads true.'),
      }),
      errorRequest('by the ratio of the drive', {
        indicatedPerTrue: ref(
          RatioIn,
          'Indicated over true speed by the drive alone, before the error of the head: above 1 it over-reads.',
          'indicatedPerTrue',
        ),
      }),
    ],
    {
      description:
        'Give fitted and calibratedFor, or indicatedPerTrue: the ratio of the drive, before the own error of the head.',
      examples: [
        {
          fitted: { size: '185/60R14' },
          calibratedFor: { size: '195/70R14' },
          speeds: [{ mph: 30 }, { mph: 60 }],
          rules: ['un-r39', 'us-49-cfr-393-82'],
        },
        {
          indicatedPerTrue: { value: 1.03, plusMinus: 0.01 },
          head: { offset: { mph: 1 }, dialMax: { kmh: 200 } },
          speeds: [{ kmh: 50 }, { kmh: 100 }],
          rules: [
            'de-before-1991',
            { custom: { lower: { percent: 0, kmh: 0 }, upper: { percent: 5, kmh: 2 } } },
          ],
        },
      ],
    },
  ),
)

export const GaugeErrorAnswer = calculationAnswer(
  'GaugeErrorAnswer',
  'What a dial reads, and by how much it is wrong.',
  {
    indicatedPerTrue: ref(
      Ratio,
      'Indicated over true speed, apart from the offset of the head: above 1 it over-reads.',
    ),
    table: listOf(SpeedTableRow, 200, 'One row per speed.'),
    verdicts: listOf(
      Verdict,
      20,
      'One verdict for each rule over all its speeds, whichever were asked about: from the lowest that it names, else 10 km/h, to the last mark, else 120 km/h. Rules of the odometer are judged where the tire was changed.',
    ),
    series: listOf(Series, 10, 'Lines for a plot: error against true speed, and its uncertainty.'),
    budget: listOf(BudgetLine, 50, 'What the uncertainty of indicatedPerTrue comes from.'),
  },
)
