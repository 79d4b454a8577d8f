import { Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer, Series } from './answers.js'
import { RuleIn, Verdict } from './gauges.js'
import { DistanceIn, PerDistance, PerDistanceIn, Ratio, Speed, SpeedIn } from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { choice, count, plainOut } from './plain-values.js'

const index = (description: string) => count({ minimum: 0, maximum: 100_000, description })

export const CalibrationReading = shape(
  'CalibrationReading',
  'What the dial showed, and the true speed at that moment: by GPS, stopwatch or dynamometer. Give plusMinus with every reading, or with none.',
  {
    indicated: ref(SpeedIn, 'Speed that the dial showed.', 'reading {n}: indicated speed'),
    true: ref(SpeedIn, 'True speed at that moment.', 'reading {n}: true speed'),
  },
)

/** Where a dial was read; `otherwise` says what it is when left out. */
export const calibrationPlace = (otherwise = '') =>
  choice(['bench', 'road'], {
    description: `bench: the head alone was driven, and true is the speed that the drive simulates by the constant of the head. road: the car was driven, and true is the speed over the ground.${otherwise}`,
  })

/** The number that sets the reading now. */
export const CurrentSetting = named(
  'CurrentSetting',
  Type.Union(
    [
      Type.Object(
        {
          constant: ref(
            PerDistanceIn,
            'Turns or pulses per distance at which the head or display is set to read true.',
            'current constant',
          ),
        },
        {
          additionalProperties: false,
          title: 'a constant: turns or pulses per distance at which the head or display reads true',
        },
      ),
      Type.Object(
        {
          multiply: count({ minimum: 1, maximum: 1_000_000, description: 'Pulses out.' }),
          divide: count({ minimum: 1, maximum: 1_000_000, description: 'Pulses in.' }),
          maxTerm: Type.Optional(
            count({
              minimum: 1,
              maximum: 1_000_000,
              description: 'Largest whole number that the scaler takes; 255 when left out.',
            }),
          ),
        },
        { additionalProperties: false, title: 'the whole numbers of a pulse scaler' },
      ),
    ],
    { description: 'What is set now: give constant, or multiply and divide.' },
  ),
)

export const GaugeCalibrationRequest = named(
  'GaugeCalibrationRequest',
  Type.Object(
    {
      readings: Type.Array(ref(CalibrationReading), {
        minItems: 1,
        maxItems: 500,
        description: 'Readings of one dial, each taken at a steady speed.',
      }),
      model: choice(['proportional', 'linear'], {
        description:
          'proportional: indicated = b x true, for a wrong ratio. linear: indicated = a + b x true, when the head has an offset of its own. Echoed as fit.',
      }),
      rules: Type.Optional(listOf(RuleIn, 20, 'Rules to judge by.')),
      speeds: Type.Optional(
        Type.Array(ref(SpeedIn, undefined, 'one reading of the dial'), {
          minItems: 1,
          maxItems: 200,
          description:
            'Speeds of correctionAt; left out: round speeds up to the highest reading. plusMinus is the uncertainty of one such reading; left out: the scatter of the readings.',
        }),
      ),
      dialMax: Type.Optional(
        ref(
          SpeedIn,
          'Highest mark of the dial; needed by rules that go by it, and the end of the speeds that are judged where topSpeed is left out.',
          'last mark of the dial',
        ),
      ),
      topSpeed: Type.Optional(
        ref(
          SpeedIn,
          'Highest speed of the vehicle: the end of the speeds that are judged. Left out: dialMax, else 120 km/h.',
          'top speed',
        ),
      ),
      input: Type.Optional(
        choice(['turns', 'pulses'], { description: 'What drives the head; turns when left out.' }),
      ),
      on: Type.Optional(calibrationPlace(' Road when left out.')),
      current: Type.Optional(
        ref(CurrentSetting, 'What sets the reading now; left out: no new setting is suggested.'),
      ),
      distanceCheck: Type.Optional(
        Type.Object(
          {
            indicated: ref(DistanceIn, 'Distance by the odometer.', 'distance check: recorded'),
            true: ref(
              DistanceIn,
              'True distance, or on a bench the one that the drive simulates by the constant of the head.',
              'distance check: true',
            ),
          },
          {
            additionalProperties: false,
            description:
              'Distance that the odometer of the same head counted over a known distance: distinguishes a wrong ratio from a wrong head. On a bench, the known distance is that which the turns or pulses driven into the head make by its constant.',
          },
        ),
      ),
    },
    {
      additionalProperties: false,
      examples: [
        {
          readings: [
            { indicated: { mph: 21, plusMinus: 0.5 }, true: { mph: 20, plusMinus: 0.3 } },
            { indicated: { mph: 32, plusMinus: 0.5 }, true: { mph: 30, plusMinus: 0.3 } },
            { indicated: { mph: 42.5, plusMinus: 0.5 }, true: { mph: 40, plusMinus: 0.3 } },
            { indicated: { mph: 53, plusMinus: 0.5 }, true: { mph: 50, plusMinus: 0.3 } },
          ],
          model: 'proportional',
          rules: ['un-r39'],
          current: { constant: { perMile: 1000 } },
          distanceCheck: { indicated: { mi: 10.6, plusMinus: 0.05 }, true: { mi: 10, plusMinus: 0.02 } },
        },
        {
          readings: [
            { indicated: { kmh: 32 }, true: { kmh: 30.2 } },
            { indicated: { kmh: 53 }, true: { kmh: 50.1 } },
            { indicated: { kmh: 73.5 }, true: { kmh: 69.7 } },
            { indicated: { kmh: 95 }, true: { kmh: 90.3 } },
            { indicated: { kmh: 116 }, true: { kmh: 110.4 } },
          ],
          model: 'linear',
          speeds: [{ kmh: 50 }, { kmh: 100, plusMinus: 1 }],
          rules: ['de-before-1991'],
          dialMax: { kmh: 180 },
          input: 'pulses',
          current: { multiply: 17, divide: 20, maxTerm: 99 },
        },
      ],
    },
  ),
)

const Residual = shape('CalibrationResidual', 'Indicated minus the line, at one reading.', {
  reading: index('Which reading, from 0.'),
  residual: ref(Speed, 'Indicated speed minus the speed of the fitted line at that true speed.'),
  standardized: plainOut('Residual over what is expected of it; beyond 3 it is out of line.'),
  outlier: Type.Boolean({ description: 'Whether the reading is an outlier.' }),
})

const Correction = shape(
  'CalibrationCorrection',
  'Corrections both ways at one speed, with the uncertainty of one reading: the true speed when the dial shows it, and what the dial shows when it is the true speed.',
  {
    speed: ref(Speed, 'The speed.'),
    trueWhenIndicated: ref(Speed, 'True speed when the dial shows it.'),
    indicatedWhenTrue: ref(Speed, 'What the dial shows when it is the true speed.'),
    withinReadings: Type.Boolean({
      description:
        'Whether the speed lies between the lowest and highest reading; outside, the line is only prolonged.',
    }),
  },
)

const HeadFinding = Type.Object(
  {
    code: Type.String({ description: 'What was found; stable, for programs.' }),
    level: choice(['fail', 'caution', 'info'], {
      description:
        'fail: a rule is not met, or something does not work. caution: not proven, or needs attention. info: good to know.',
    }),
    text: Type.String({ description: 'The finding and what to do, for people.' }),
  },
  { additionalProperties: false, description: 'A finding on head or ratio.' },
)

const NextSetting = shape(
  'NextSetting',
  'The number to set next: the constant or ratio for a true reading apart from the offset, and the one with which the speedometer hardly ever under-reads. The latter refers to the speed, whatever the basis; it is absent if the readings are too uncertain.',
  {
    basis: choice(['speed', 'distance'], {
      description:
        'The error that it corrects: where the head itself is wrong, that of the odometer alone; where it is right, that of the speed or of the odometer, whichever is known better.',
    }),
    constant: Type.Optional(
      ref(
        PerDistance,
        'Constant to set for a true reading apart from the offset; absent where a scaler is set.',
      ),
    ),
    ratio: Type.Optional(
      ref(
        Ratio,
        'Scaler ratio to set for a true reading apart from the offset; absent where a constant is set.',
      ),
    ),
    noUnderReadingConstant: Type.Optional(
      ref(
        PerDistance,
        'Constant at which under-reading has a probability of at most 5 % at every round speed of the dial from 20 km/h up, with the present offset.',
      ),
    ),
    noUnderReadingRatio: Type.Optional(
      plainOut(
        'Scaler ratio at which under-reading has a probability of at most 5 % at every round speed of the dial from 20 km/h up, with the offset that it has.',
      ),
    ),
    noUnderReadingErrorPercent: Type.Optional(
      plainOut('By how much the dial over-reads then, at the speed where that is largest [%].'),
    ),
    settings: Type.Optional(
      Type.Array(
        Type.Object(
          {
            multiply: count({ minimum: 1, maximum: 1_000_000_000, description: 'Pulses out.' }),
            divide: count({ minimum: 1, maximum: 1_000_000_000, description: 'Pulses in.' }),
            errorPercent: plainOut(
              'By how much the dial, or its odometer where that is the basis, over-reads then [%], at the round speed from 20 km/h up where it is farthest from true; below zero it under-reads.',
            ),
          },
          { additionalProperties: false, description: 'Whole numbers for the scaler.' },
        ),
        {
          maxItems: 12,
          description:
            'Nearest first; but for the nearest, none over-reads by more than 4 %, or under-reads by more than the uncertainty of the ratio or 4 %.',
        },
      ),
    ),
  },
)

export const GaugeCalibrationAnswer = calculationAnswer('GaugeCalibrationAnswer', 'Calibration of a dial.', {
  fit: choice(['proportional', 'linear'], { description: 'The model of the request.' }),
  scalePercent: plainOut('Error of scale [%]: indicated = true x (1 + scalePercent/100) + offset.'),
  scalePercentPlusMinus: plainOut('Uncertainty of scalePercent, 95 % [percentage points].'),
  offset: ref(
    Speed,
    'Constant part of the error: positive over-reads at every speed. 0 with a proportional fit.',
  ),
  correlation: plainOut('Correlation coefficient of scale and offset [-1..1].'),
  readingScatter: ref(Speed, 'Standard deviation of one reading about the line.'),
  scatterExceedsUncertainty: Type.Boolean({
    description: 'The readings scatter more than their uncertainties allow (chi square, 5 %).',
  }),
  residuals: listOf(Residual, 500, 'One for each reading.'),
  outliers: Type.Array(index('Reading, from 0.'), {
    maxItems: 500,
    description: 'Readings that are outliers. The fit includes them; robust is hardly affected by them.',
  }),
  correctionAt: listOf(Correction, 200, 'One for each speed.'),
  verdicts: listOf(
    Verdict,
    20,
    'One verdict for each rule that limits speed, over all its speeds: from the lowest that it names, else 10 km/h, to the top speed, else the last mark, else 120 km/h.',
  ),
  diagnosis: Type.Object(
    {
      fault: choice(['none', 'ratio', 'head', 'ratio-and-head', 'not-distinguishable'], {
        description:
          'Where the error comes from: the ratio that drives the head, or the head itself (spring, magnet, display).',
      }),
      headScalePercent: Type.Optional(
        plainOut("The head's own error of scale, which the odometer does not share [%]."),
      ),
      headScalePercentPlusMinus: Type.Optional(
        plainOut('Uncertainty of headScalePercent, 95 % [percentage points].'),
      ),
      findings: Type.Array(HeadFinding, { maxItems: 10, description: 'What was found, and what to do.' }),
    },
    { additionalProperties: false, description: 'Whether the ratio or the head is at fault.' },
  ),
  budget: listOf(
    BudgetLine,
    10,
    'What the uncertainty of trueWhenIndicated comes from, at the highest reading.',
  ),
  series: listOf(
    Series,
    5,
    'Lines for a plot: error of the readings, and of the line with its uncertainty, against true speed.',
  ),
  suggested: Type.Optional(ref(NextSetting, 'The number to set next; absent without current.')),
  robust: Type.Optional(
    Type.Object(
      {
        scalePercent: plainOut('Error of scale [%].'),
        offset: ref(Speed, 'Constant part of the error by the robust line.'),
        scaleLowPercent: Type.Optional(plainOut('Lower end of its 95 % range [%].')),
        scaleHighPercent: Type.Optional(plainOut('Upper end of its 95 % range [%].')),
      },
      {
        additionalProperties: false,
        description:
          'The line that outlying readings do not pull: median of all pairwise slopes, or of the ratios. Present when there are outliers.',
      },
    ),
  ),
})
