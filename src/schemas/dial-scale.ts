import { type Static, Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import {
  DialAngleIn,
  DialDiameterIn,
  DialOffsetIn,
  PointerAngleIn,
  PointSpeedIn,
  ScaleRadiusIn,
  ScaleSpeedIn,
  WindowSideIn,
} from './dial-measures.js'
import { Angle, Length, SetSpeedIn, Speed } from './measures.js'
import { closed, listOf, named, ref } from './named-shapes.js'
import { choice, count } from './plain-values.js'

const unitChoice = (description: string) => choice(['mph', 'kmh'], { description })

const step = (description: string) => count({ minimum: 1, maximum: 200, description })

const Steps = named(
  'ScaleSteps',
  Type.Object(
    {
      number: Type.Optional(step('Step between numbers, in the unit of the scale; left out: major.')),
      major: step('Step between long marks, in the unit of the scale.'),
      minor: Type.Optional(
        step('Step between short marks, in the unit of the scale; left out: long marks only.'),
      ),
    },
    { ...closed, description: 'Steps of a scale; each must be a multiple of the next smaller one.' },
  ),
)

export const DialScaleRequest = named(
  'DialScaleRequest',
  Type.Object(
    {
      sweep: Type.Object(
        {
          start: ref(DialAngleIn, 'Angle at which the scale starts; without points, the angle of speed 0.'),
          end: ref(
            DialAngleIn,
            'Angle at which the scale ends, 10 to 360 degrees from start; without points, the angle of max.',
          ),
        },
        {
          ...closed,
          description:
            'Start and end of the scale, 10 to 360 degrees apart: clockwise when end is above start, else counterclockwise. -120 to 120, or 240 to 480, is the usual dial with the gap at the bottom.',
        },
      ),
      points: Type.Optional(
        Type.Array(
          Type.Object(
            {
              angle: ref(PointerAngleIn, 'Angle of the pointer at this speed.', 'point {n}: angle'),
              speed: ref(
                PointSpeedIn,
                'True speed at which the pointer was at this angle; 0 at rest.',
                'point {n}: speed',
              ),
            },
            { ...closed, description: 'Angle of the pointer at one known speed.' },
          ),
          {
            maxItems: 50,
            description:
              'Two or more points, in any order, with angles measured like those of the sweep. Left out: a linear scale from 0 at sweep.start to max at sweep.end.',
          },
        ),
      ),
      unit: unitChoice('Unit of the main scale.'),
      max: ref(SetSpeedIn, 'Highest speed on the scale.'),
      from: Type.Optional(ref(ScaleSpeedIn, 'Lowest speed marked; left out: 0.')),
      zeroStop: Type.Optional(
        ref(
          DialAngleIn,
          'Angle at which the pointer rests on its stop pin; no marks are drawn before it. Left out: there is no pin.',
        ),
      ),
      graduations: Type.Optional(ref(Steps, 'Steps of the main scale; left out: the finest legible ones.')),
      secondScale: Type.Optional(
        Type.Object(
          {
            graduations: Type.Optional(
              ref(Steps, 'Steps of the second scale; left out: the finest legible ones.'),
            ),
            radius: Type.Optional(
              ref(
                ScaleRadiusIn,
                'Radius of the second scale; left out: the largest that fits inside the main scale.',
              ),
            ),
          },
          {
            ...closed,
            description:
              'A second scale inside the main one, in the other unit; {} for default steps and radius. Left out: one scale only.',
          },
        ),
      ),
      speeds: Type.Optional(listOf(ScaleSpeedIn, 100, 'Speeds whose angles the answer gives as well.')),
      angles: Type.Optional(
        listOf(DialAngleIn, 100, 'Pointer angles whose speeds the answer gives as well.'),
      ),
      face: Type.Optional(
        Type.Object(
          {
            radius: Type.Optional(ref(ScaleRadiusIn, 'Radius of the main scale; left out: 40 mm.')),
            edgeDiameter: Type.Optional(
              ref(DialDiameterIn, 'Diameter to cut the dial to; left out: no edge is drawn.'),
            ),
            holeDiameter: Type.Optional(
              ref(DialDiameterIn, 'Diameter of the hole for the pointer shaft; left out: no hole is drawn.'),
            ),
            window: Type.Optional(
              Type.Object(
                {
                  width: ref(WindowSideIn, 'Width of the window.'),
                  height: ref(WindowSideIn, 'Height of the window.'),
                  right: Type.Optional(
                    ref(
                      DialOffsetIn,
                      'Center of the window to the right of the center of the dial, negative to the left; left out: 0.',
                    ),
                  ),
                  down: Type.Optional(
                    ref(
                      DialOffsetIn,
                      'Center of the window below the center of the dial, negative above; left out: 0.',
                    ),
                  ),
                },
                {
                  ...closed,
                  description:
                    'Window of the odometer: its size, and the offset of its center from that of the dial.',
                },
              ),
            ),
          },
          {
            ...closed,
            description:
              'Dimensions of the printed dial: radius of the main scale, outer edge, hole for the pointer shaft, window. Left out: a main scale of 40 mm radius alone.',
          },
        ),
      ),
    },
    {
      ...closed,
      description:
        'A dial to lay out: its sweep, its unit and highest speed, and the points measured on it, if any.',
      examples: [
        {
          sweep: { start: { deg: -120 }, end: { deg: 120 } },
          unit: 'mph',
          max: { mph: 120 },
          graduations: { number: 20, major: 10, minor: 5 },
        },
        {
          sweep: { start: { deg: -135 }, end: { deg: 135 } },
          points: [
            { angle: { deg: -118, plusMinus: 1 }, speed: { mph: 10, plusMinus: 0.3 } },
            { angle: { deg: -84, plusMinus: 1 }, speed: { mph: 25, plusMinus: 0.3 } },
            { angle: { deg: -23, plusMinus: 1 }, speed: { mph: 50, plusMinus: 0.4 } },
            { angle: { deg: 32, plusMinus: 1 }, speed: { mph: 75, plusMinus: 0.5 } },
            { angle: { deg: 84, plusMinus: 1 }, speed: { mph: 100, plusMinus: 0.6 } },
          ],
          unit: 'mph',
          max: { mph: 110 },
          zeroStop: { deg: -130 },
          graduations: { number: 10, major: 10, minor: 2 },
          secondScale: {},
          speeds: [{ kmh: 50 }],
          angles: [{ deg: 0 }],
          face: {
            radius: { mm: 42 },
            edgeDiameter: { mm: 100 },
            holeDiameter: { mm: 6 },
            window: { width: { mm: 22 }, height: { mm: 6 }, down: { mm: 29 } },
          },
        },
        {
          sweep: { start: { deg: 90 }, end: { deg: -180 } },
          points: [
            { angle: { deg: 90 }, speed: { kmh: 0 } },
            { angle: { deg: -180 }, speed: { kmh: 180 } },
          ],
          unit: 'kmh',
          max: { kmh: 180 },
          face: { radius: { in: 1.75 } },
        },
      ],
    },
  ),
)

const DialPlace = named(
  'DialPlace',
  Type.Object(
    {
      xMm: Type.Number({ description: 'To the right of the center of the dial [mm].', 'x-unit': 'mm' }),
      yMm: Type.Number({ description: 'Below the center of the dial [mm].', 'x-unit': 'mm' }),
    },
    { ...closed, description: 'A place on the dial.' },
  ),
)

const ScaleMarkShape = named(
  'ScaleMark',
  Type.Object(
    {
      unit: unitChoice('Unit of its scale.'),
      value: count({
        minimum: 0,
        maximum: 1100,
        description: 'Speed of the mark, in the unit of its scale.',
      }),
      kind: choice(['numbered', 'major', 'minor'], {
        description: 'Long mark with a number, long mark, or short mark.',
      }),
      label: Type.Optional(Type.String({ description: 'Number printed at the mark; absent where none is.' })),
      angle: ref(Angle, 'Angle of the mark.'),
      speed: ref(
        Speed,
        'Speed that a pointer on the mark indicates, with the uncertainty of such a reading.',
      ),
      withinPoints: Type.Boolean({
        description: 'False where the scale is extrapolated, below the slowest or above the fastest point.',
      }),
      outerEnd: ref(DialPlace, 'Outer end of the mark, on the circle of its scale.'),
      innerEnd: ref(DialPlace, 'Inner end of the mark.'),
      labelAt: Type.Optional(ref(DialPlace, 'Center of the number; absent where none is printed.')),
    },
    {
      ...closed,
      description:
        'A mark: its angle, and the speed that a pointer on it indicates, with the uncertainty of such a reading.',
    },
  ),
)

const AngleAtSpeed = Type.Object(
  {
    speed: ref(Speed, 'The speed of the request.'),
    angle: ref(Angle, 'Angle at which the pointer shows it.'),
    withinPoints: Type.Boolean({ description: 'False where the scale is extrapolated.' }),
  },
  { ...closed, description: 'The angle of a speed.' },
)

const SpeedAtAngle = Type.Object(
  {
    angle: ref(Angle, 'The angle of the request.'),
    speed: ref(Speed, 'Speed that the pointer shows there, with the uncertainty of such a reading.'),
    withinPoints: Type.Boolean({ description: 'False where the scale is extrapolated.' }),
  },
  { ...closed, description: 'The speed that a pointer at an angle shows; negative before the zero mark.' },
)

const ScaleShape = Type.Object(
  {
    unit: unitChoice('Unit of the scale.'),
    radius: ref(Length, 'Radius of the scale, to the outer ends of its marks.'),
    fontHeight: ref(Length, 'Height of its numbers.'),
    graduations: Type.Object(
      {
        number: step('Step between numbers, in the unit of the scale.'),
        major: step('Step between long marks, in the unit of the scale.'),
        minor: step('Step between short marks, in the unit of the scale.'),
      },
      { ...closed, description: 'Steps of the scale.' },
    ),
    closestMarks: Type.Optional(
      ref(
        Length,
        'Shortest distance between two of its marks, at their inner ends; absent with fewer than two marks.',
      ),
    ),
  },
  {
    ...closed,
    description: 'One scale: its radius, its steps, and the spacing of its closest marks.',
  },
)

const UnitLabel = Type.Object(
  {
    text: Type.String({ description: 'The name of the unit as printed.' }),
    at: ref(DialPlace, 'Center of the text.'),
    fontHeight: ref(Length, 'Height of the letters.'),
  },
  { ...closed, description: 'The name of a unit on the dial.' },
)

export const DialScaleAnswer = calculationAnswer('DialScaleAnswer', 'The scale of a dial.', {
  direction: choice(['clockwise', 'counterclockwise'], {
    description: 'Direction in which the pointer moves as the speed increases.',
  }),
  method: choice(['linear-sweep', 'straight-line', 'monotone-cubic'], {
    description:
      'linear-sweep: no points; straight-line: through two points; monotone-cubic: a monotone cubic through three or more points, straight beyond them.',
  }),
  sweep: Type.Object(
    {
      start: ref(Angle, 'Angle at which the scale starts, as given.'),
      end: ref(Angle, 'Angle at which the scale ends, as given.'),
    },
    { ...closed, description: 'The sweep of the request.' },
  ),
  scales: Type.Array(ScaleShape, { maxItems: 2, description: 'Main scale, then the second one.' }),
  marks: listOf(ScaleMarkShape, 2500, 'Every mark, in order of scale and speed.'),
  zeroStop: Type.Optional(
    Type.Object(
      {
        angle: ref(Angle, 'Angle at which the pointer rests on the pin.'),
        at: ref(DialPlace, 'Position of the pin.'),
        speed: ref(Speed, 'Speed at the pin: at lower speeds the pointer rests on it.'),
      },
      {
        ...closed,
        description: 'The stop pin of the pointer.',
      },
    ),
  ),
  angleAt: Type.Array(AngleAtSpeed, { maxItems: 100, description: 'One row for each speed of the request.' }),
  speedAt: Type.Array(SpeedAtAngle, { maxItems: 100, description: 'One row for each angle of the request.' }),
  unitLabels: Type.Array(UnitLabel, {
    maxItems: 2,
    description: 'Unit names as printed: one for each scale.',
  }),
  face: Type.Object(
    {
      edgeDiameter: Type.Optional(ref(Length, 'Diameter to cut the dial to, as given.')),
      holeDiameter: Type.Optional(ref(Length, 'Diameter of the hole for the pointer shaft, as given.')),
      window: Type.Optional(
        Type.Object(
          {
            center: ref(DialPlace, 'Center of the window.'),
            width: ref(Length, 'Width of the window, as given.'),
            height: ref(Length, 'Height of the window, as given.'),
          },
          { ...closed, description: 'Window of the odometer.' },
        ),
      ),
    },
    { ...closed, description: 'Cut-outs of the dial.' },
  ),
  budget: listOf(
    BudgetLine,
    101,
    'Contributions to the uncertainty, at the mark with the largest uncertainty.',
  ),
})

export type DialScaleShape = Static<typeof DialScaleAnswer>
