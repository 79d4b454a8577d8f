import { type Static, type TProperties, Type } from '@sinclair/typebox'
import { calculationAnswer } from './answers.js'
import { Stage } from './drive-stages.js'
import { measureIn } from './measure-shapes.js'
import { Length, PerDistance, PerDistanceIn, SetSpeedIn, SetTimeIn, Speed, Time } from './measures.js'
import { named, ref, shape } from './named-shapes.js'
import { count, plain, plainOut } from './plain-values.js'
import { Tire } from './tires.js'

const whole = <const T extends number>(values: readonly T[], description: string) =>
  Type.Unsafe<T>({
    type: 'integer',
    enum: [...values],
    minimum: Math.min(...values),
    maximum: Math.max(...values),
    'x-dimensionless': true,
    description,
  })

const OdometerStepIn = measureIn('OdometerStepIn', 'distance', {
  min: 0.1,
  max: 5e9,
  description: 'A step of an odometer.',
  uncertainty: false,
})

/** How the processor counts and calculates. */
export const FIRMWARE_TIMER = {
  timerTick: ref(SetTimeIn, 'Time of one timer tick.'),
  counterBits: count({ minimum: 8, maximum: 64, description: 'Width of the timer counter [bits].' }),
  integerBits: whole([16, 32, 64], 'Width of the unsigned integers of the arithmetic [bits].'),
  zeroTimeout: ref(SetTimeIn, 'Time without a pulse after which the firmware shows zero.'),
  topSpeed: ref(SetSpeedIn, 'Highest speed that must be measured.'),
  odometerStep: ref(OdometerStepIn, 'Distance by which the odometer advances in one step.'),
  speedParts: Type.Optional(
    whole(
      [1, 10, 100],
      'Resolution of the speed in the firmware: 10 keeps tenths of a mph or km/h. Left out: the finest that fits.',
    ),
  ),
  filterFactor: Type.Optional(
    plain({
      minimum: 1e-6,
      maximum: 1,
      description: 'Factor a of the smoothing y += a (x - y) on the periods.',
    }),
  ),
}

const request = <T extends TProperties>(title: string, fields: T) =>
  Type.Object({ ...fields, ...FIRMWARE_TIMER }, { additionalProperties: false, title })

const TIMER = {
  timerTick: { us: 1 },
  counterBits: 32,
  integerBits: 32,
  zeroTimeout: { ms: 500 },
  topSpeed: { mph: 120 },
  odometerStep: { mi: 0.1 },
} as const

export const FirmwareRequest = named(
  'FirmwareRequest',
  Type.Union(
    [
      request('by the pulses per distance', {
        pulses: ref(PerDistanceIn, "Pulses per distance at the controller's input.", 'pulses per distance'),
      }),
      request('by tire and stages', {
        tire: ref(Tire, 'The tire on the driven wheels.'),
        stages: Type.Array(ref(Stage), {
          minItems: 1,
          maxItems: 20,
          description: 'Stages from wheel to processor, a pulse-ring among them.',
        }),
      }),
    ],
    {
      description: 'Give pulses, or tire and stages.',
      examples: [
        { pulses: { perMile: 8000, plusMinus: 40 }, ...TIMER, filterFactor: 0.2 },
        {
          tire: { rollingCircumference: { mm: 1885, plusMinus: 5 } },
          stages: [{ kind: 'pulse-ring', pulsesPerTurn: 8 }],
          timerTick: { us: 4 },
          counterBits: 16,
          integerBits: 32,
          zeroTimeout: { ms: 250 },
          topSpeed: { kmh: 200 },
          odometerStep: { m: 100 },
          speedParts: 10,
        },
      ],
    },
  ),
)

const bigCount = (description: string) => count({ minimum: 0, maximum: Number.MAX_SAFE_INTEGER, description })

export const SpeedConstant = shape('SpeedConstant', 'Speed times period: the same at every speed.', {
  floating: Type.Number({
    description: 'Divide by the period in timer ticks to get the speed in the unit.',
    'x-dimensionless': true,
  }),
  whole: bigCount('The same for speedParts parts of the unit, in a whole number.'),
  errorPercent: plainOut('Error of the whole number by its rounding [%].'),
  minTicksFor16Bits: bigCount('Shortest period whose speed in parts fits 16 bits [ticks].'),
  maxPeriods: bigCount('How many periods can be timed as one: whole times so many still fits integerBits.'),
})

export const FirmwareAnswer = calculationAnswer(
  'FirmwareAnswer',
  'All numbers that a program on a small processor needs to show speed and count distance.',
  {
    pulses: ref(PerDistance, "Pulses per distance at the controller's input."),
    distancePerPulse: ref(Length, 'Distance covered between two pulses.'),
    ticksPerSecond: Type.Number({ description: 'Timer ticks in a second.', 'x-unit': '/s' }),
    counterBits: count({ minimum: 8, maximum: 64, description: 'Width of the timer counter [bits].' }),
    integerBits: count({ minimum: 16, maximum: 64, description: 'Width of the integers [bits].' }),
    speedParts: count({
      minimum: 1,
      maximum: 100,
      description: 'Resolution of the speed: 10 keeps tenths of a mph or km/h.',
    }),
    kmh: ref(SpeedConstant, 'Constant for a speed in km/h.'),
    mph: ref(SpeedConstant, 'Constant for a speed in mph.'),
    timeoutTicks: bigCount('Ticks without a pulse after which the speed is zero.'),
    lowestSpeed: ref(Speed, 'Lowest speed that is shown before the zero timeout.'),
    topSpeedTicks: plainOut('Period at top speed [ticks].'),
    resolutionAtTopSpeed: ref(Speed, 'Speed step that one timer tick makes at top speed.'),
    counterWrap: ref(Time, 'Time after which the timer counter starts again from zero.'),
    odometer: Type.Object(
      {
        pulsesPerStep: plainOut('Pulses of one step of the odometer.'),
        pulsesPerStepPlusMinus: plainOut('Uncertainty of pulsesPerStep, 95 %.'),
        wholePulses: bigCount('Whole pulses of a step.'),
        residue: plainOut('Fraction of a pulse that remains [0..1].'),
        residue65536: count({
          minimum: 0,
          maximum: 65_535,
          description:
            'The residue in 1/65536 of a pulse: add it at each step, and count one pulse more when it overflows 16 bits.',
        }),
        driftPpm: plainOut('Drift of the odometer from that rounding [parts per million].'),
        driftWithoutResiduePercent: plainOut('Drift of the odometer if the residue were dropped [%].'),
      },
      { additionalProperties: false, description: 'Pulses of one step of the odometer.' },
    ),
    filter: Type.Optional(
      Type.Object(
        {
          shift: count({
            minimum: 0,
            maximum: 15,
            description: 'state += period - (state >> shift), smoothed period = state >> shift.',
          }),
          factor: plainOut('The factor that the shift gives.'),
          factorErrorPercent: plainOut('Deviation of that factor from filterFactor [%].'),
          stateBits: count({ minimum: 1, maximum: 100, description: 'Bits that the state needs.' }),
        },
        { additionalProperties: false, description: 'Smoothing of the periods by a shift.' },
      ),
    ),
  },
)

export type FirmwareShape = Static<typeof FirmwareAnswer>
