import { Type } from '@sinclair/typebox'
import { calculationAnswer } from './answers.js'
import { assumptions } from './assumptions.js'
import { DragTorqueIn } from './cable-drag.js'
import { DialAngleIn } from './dial-measures.js'
import { AmbientIn, CurrentIn, VoltageIn } from './electrics/quantities.js'
import { budget, Conformity, probability } from './electrics/verdicts.js'
import { measureIn, measureOut } from './measure-shapes.js'
import {
  Angle,
  Current,
  PerDistanceIn,
  Ratio,
  RatioIn,
  Resistance,
  RotationalSpeed,
  SetSpeedIn,
  ShareIn,
  Speed,
  Temperature,
  Torque,
  Voltage,
} from './measures.js'
import { closed, listOf, named, ref, shape } from './named-shapes.js'
import { choice, count, plain } from './plain-values.js'
import { lineText } from './texts.js'

const HeadTorqueIn = measureIn('HeadTorqueIn', 'torque', {
  min: 1e-5,
  max: 20,
  description: 'Torque that turns a head steadily, with its odometer.',
})
const MotorSpeedIn = measureIn('MotorSpeedIn', 'rotational-speed', {
  min: 1e-2,
  max: 2000,
  description: 'A rotational speed of a motor.',
})
const SetMotorSpeedIn = measureIn('SetMotorSpeedIn', 'rotational-speed', {
  min: 0,
  max: 2000,
  description: 'A rotational speed at which a torque is given.',
  uncertainty: false,
})
const MotorConstantIn = measureIn('MotorConstantIn', 'motorConstant', {
  min: 1e-5,
  max: 100,
  description: 'Torque per current, or back-EMF per speed, of a motor.',
})
const WindingResistanceIn = measureIn('WindingResistanceIn', 'resistance', {
  min: 1e-3,
  max: 1e5,
  description: 'Resistance of a winding at 20 Cel.',
})
const ThermalResistanceIn = measureIn('ThermalResistanceIn', 'thermalResistance', {
  min: 0.01,
  max: 1000,
  description: 'Rise of temperature per heat.',
})
const SetWindingTemperatureIn = measureIn('SetWindingTemperatureIn', 'temperature', {
  min: 273.15,
  max: 573.15,
  description: 'Limit of the temperature of a winding.',
  uncertainty: false,
})
const RatedCurrentIn = measureIn('RatedCurrentIn', 'current', {
  min: 1e-3,
  max: 1000,
  description: 'Current that a motor is rated for.',
  uncertainty: false,
})
const TimerFrequencyIn = measureIn('TimerFrequencyIn', 'frequency', {
  min: 1,
  max: 1e9,
  description: 'Frequency of a timer.',
  uncertainty: false,
})
const StepRateIn = measureIn('StepRateIn', 'frequency', {
  min: 0.1,
  max: 1e5,
  description: 'A step rate.',
  uncertainty: false,
})
const MotorConstant = measureOut('MotorConstant', 'motorConstant', 'Torque per current of a motor.')

const name = lineText(80, 'Name of the motor.', { examples: ['small, with gearhead'] })
const winding = {
  thermalResistance: ref(
    ThermalResistanceIn,
    'From the winding to the surroundings.',
    'motor {n}: thermal resistance',
  ),
  maxTemperature: Type.Optional(
    ref(SetWindingTemperatureIn, 'Highest temperature of the winding; left out: 105 Cel.'),
  ),
}
const dcMotor = {
  kind: choice(['dc'], { description: 'A DC motor with permanent magnets.' }),
  name,
  resistance: ref(WindingResistanceIn, 'Between the terminals, at 20 Cel.', 'motor {n}: resistance'),
  noLoadCurrent: ref(CurrentIn, 'Current without load.', 'motor {n}: current without load'),
  levels: count({
    minimum: 2,
    maximum: 1_000_000,
    description:
      'Steps of the voltage from zero to that of the supply; 256 for pulse-width modulation of 8 bits.',
  }),
  control: choice(['voltage', 'speed'], {
    description: 'voltage: set without feedback; speed: measured and held by feedback.',
  }),
  ratedCurrent: Type.Optional(ref(RatedCurrentIn, 'Highest continuous current; left out: not checked.')),
  winding: Type.Optional(
    Type.Object(winding, {
      ...closed,
      description: 'Warm-up; left out: the winding is taken as warm as its surroundings, and not checked.',
    }),
  ),
}

export const MotorOption = named(
  'MotorOption',
  Type.Union(
    [
      Type.Object(
        {
          ...dcMotor,
          constant: ref(
            MotorConstantIn,
            'Torque per current, or the back-EMF per speed, which is the same; from a speed constant of n rpm per volt: 1000/n volts per 1000 rpm.',
            'motor {n}: constant',
          ),
        },
        { ...closed, title: 'DC motor by its constant' },
      ),
      Type.Object(
        {
          ...dcMotor,
          voltage: ref(VoltageIn, 'Voltage of the data without load.', 'motor {n}: voltage without load'),
          noLoadSpeed: ref(MotorSpeedIn, 'Speed without load.', 'motor {n}: speed without load'),
        },
        { ...closed, title: 'DC motor by its speed without load' },
      ),
      Type.Object(
        {
          kind: choice(['stepper'], { description: 'A stepper motor.' }),
          name,
          stepsPerTurn: count({
            minimum: 4,
            maximum: 1_000_000,
            description: 'Steps of the driver per turn, microsteps included.',
          }),
          pullOut: Type.Array(
            Type.Object(
              {
                speed: ref(SetMotorSpeedIn, 'Speed of the motor; 0 for the holding torque.'),
                torque: ref(DragTorqueIn, 'Pull-out torque there.', 'motor: pull-out torque {n}'),
              },
              { ...closed, description: 'Torque at which the motor loses steps, at one speed.' },
            ),
            {
              minItems: 1,
              maxItems: 50,
              description:
                'Pull-out torque with this driver and supply, in any order, up to the speed of the motor at the top speed.',
            },
          ),
          timer: ref(TimerFrequencyIn, 'Frequency of the timer that counts from step to step.'),
          minStepRate: Type.Optional(
            ref(StepRateIn, 'Lowest rate at which single steps do not show on the needle; left out: 30 Hz.'),
          ),
          phase: Type.Optional(
            Type.Object(
              {
                current: ref(CurrentIn, 'Current of each of the two phases.', 'motor {n}: phase current'),
                resistance: ref(
                  WindingResistanceIn,
                  'Of one phase, at 20 Cel.',
                  'motor {n}: phase resistance',
                ),
                ...winding,
              },
              { ...closed, description: 'Winding of the motor; left out: not checked.' },
            ),
          ),
        },
        { ...closed, title: 'stepper motor' },
      ),
    ],
    { description: 'A motor: dc with constant, dc with voltage and noLoadSpeed, or stepper.' },
  ),
)

export const MotorDriveRequest = named(
  'MotorDriveRequest',
  Type.Object(
    {
      head: Type.Object(
        {
          constant: ref(PerDistanceIn, 'Turns per distance at which the head reads true.', 'head: constant'),
          torque: ref(
            HeadTorqueIn,
            'Torque that turns the warm head; plusMinus: its scatter from head to head or test to test.',
            'head: torque',
          ),
          coldTorque: Type.Optional(
            ref(
              HeadTorqueIn,
              'Torque in the cold, with stiff grease; left out: twice the torque when warm.',
              'head: torque in the cold',
            ),
          ),
          dial: Type.Optional(
            Type.Object(
              {
                start: ref(DialAngleIn, 'Angle of speed 0.'),
                end: ref(DialAngleIn, 'Angle of max.'),
                max: ref(SetSpeedIn, 'Last mark of the scale.'),
              },
              { ...closed, description: 'A linear scale, for steps as angles of the needle.' },
            ),
          ),
        },
        { ...closed, description: 'The head that the motor is to turn.' },
      ),
      speeds: Type.Object(
        {
          creep: ref(SetSpeedIn, 'Lowest speed that the dial has to show steadily.'),
          top: ref(SetSpeedIn, 'Highest speed that the dial has to show.'),
        },
        { ...closed, description: 'Range of speeds on the dial.' },
      ),
      supply: Type.Object(
        {
          min: ref(VoltageIn, 'Lowest voltage at the motor: behind driver and leads.', 'supply: lowest'),
          max: ref(VoltageIn, 'Highest voltage at the motor.', 'supply: highest'),
        },
        { ...closed, description: 'Voltage that is left for the motor; equal for a regulated supply.' },
      ),
      gear: Type.Optional(
        Type.Object(
          {
            motorTurnsPerHeadTurn: ref(
              RatioIn,
              'Turns of the motor per turn of the head; above 1 the motor turns faster.',
              'gear: ratio',
            ),
            efficiency: Type.Optional(
              ref(ShareIn, 'Efficiency of the gear; left out: 0.9 ± 0.05.', 'gear: efficiency'),
            ),
          },
          {
            ...closed,
            description: 'Gear between motor and head; left out: the motor turns the head directly.',
          },
        ),
      ),
      ambient: Type.Optional(
        ref(AmbientIn, 'Temperature around the motor; left out: 40 ± 20 Cel.', 'ambient'),
      ),
      minTorqueMargin: Type.Optional(
        plain({
          minimum: 1,
          maximum: 10,
          description: 'Available ÷ required torque that a motor has to have; left out: 1.5.',
        }),
      ),
      maxStep: Type.Optional(
        ref(SetSpeedIn, 'Largest step or shift of the reading that is accepted; left out: 1 mph.'),
      ),
      motors: Type.Array(ref(MotorOption), {
        minItems: 1,
        maxItems: 20,
        description: 'Motors to compare.',
      }),
    },
    {
      ...closed,
      examples: [
        {
          head: {
            constant: { perMile: 1000 },
            torque: { mNm: 4, plusMinus: 0.6 },
            coldTorque: { mNm: 6, plusMinus: 1 },
            dial: { start: { deg: -120 }, end: { deg: 120 }, max: { mph: 90 } },
          },
          speeds: { creep: { mph: 5 }, top: { mph: 90 } },
          supply: { min: { v: 10 }, max: { v: 14.5 } },
          ambient: { c: 45, plusMinus: 10 },
          motors: [
            {
              kind: 'dc',
              name: 'small, speed by feedback',
              voltage: { v: 12 },
              noLoadSpeed: { rpm: 4200, plusMinus: 200 },
              noLoadCurrent: { ma: 60, plusMinus: 10 },
              resistance: { ohm: 9.5, plusMinus: 0.5 },
              levels: 1024,
              control: 'speed',
              ratedCurrent: { ma: 450 },
              winding: { thermalResistance: { kPerW: 28, plusMinus: 4 } },
            },
            {
              kind: 'dc',
              name: 'tiny, by voltage',
              constant: { vPerKrpm: 4 },
              noLoadCurrent: { ma: 20 },
              resistance: { ohm: 40 },
              levels: 256,
              control: 'voltage',
            },
            {
              kind: 'stepper',
              name: 'stepper of 200 steps',
              stepsPerTurn: 1600,
              pullOut: [
                { speed: { rpm: 300 }, torque: { mNm: 120, plusMinus: 12 } },
                { speed: { rpm: 1600 }, torque: { mNm: 45, plusMinus: 6 } },
              ],
              timer: { hz: 2_000_000 },
              phase: {
                current: { ma: 500 },
                resistance: { ohm: 4.2 },
                thermalResistance: { kPerW: 12, plusMinus: 2 },
              },
            },
          ],
        },
      ],
    },
  ),
)

const MotorPoint = shape('MotorPoint', 'A motor on the head at one speed on the dial.', {
  speed: ref(Speed, 'Speed on the dial.'),
  motorSpeed: ref(RotationalSpeed, 'Speed of the motor.'),
  requiredTorque: ref(
    Torque,
    'Torque that the head needs at the shaft of the motor: the larger of warm and cold.',
  ),
  availableTorque: ref(
    Torque,
    'Torque of the motor at the lowest voltage; below zero where it does not reach this speed.',
  ),
  torqueMargin: ref(Ratio, 'Available ÷ required torque; at 1 the motor stalls or loses steps.'),
  current: Type.Optional(ref(Current, 'Current of a DC motor at the required torque.')),
  voltage: Type.Optional(ref(Voltage, 'Voltage of a DC motor at the required torque.')),
})

const MotorCheck = shape('MotorCheck', 'Something that has to hold for a motor to serve.', {
  kind: choice(
    [
      'torque-reserve',
      'rated-current',
      'winding-temperature',
      'visible-step',
      'reading-shift',
      'lowest-speed',
    ],
    { description: 'What is checked.' },
  ),
  field: Type.String({ description: 'Field to change where it does not conform, as a JSON Pointer.' }),
  text: Type.String({ description: 'What holds if it conforms.' }),
  probability,
  result: Conformity,
})

const MotorOnHead = shape('MotorOnHead', 'One motor on the head.', {
  name: Type.String({ description: 'Name of the motor.' }),
  verdict: Conformity,
  checks: listOf(MotorCheck, 10, 'What has to hold; those that do not conform limit the motor.'),
  points: listOf(MotorPoint, 10, 'From creep to top.'),
  controlStep: ref(
    Speed,
    'Change of the reading by one step of the control, where it is largest: one voltage level at the highest supply, or one tick of the timer at the top speed.',
  ),
  controlStepAngle: Type.Optional(
    ref(Angle, 'The same as an angle of the needle; absent without head.dial.'),
  ),
  lowestSteadySpeed: ref(Speed, 'Lowest speed on the dial at which the motor turns steadily.'),
  readingShift: Type.Optional(
    ref(Speed, 'Change of the reading from a warm to a cold head, of a motor controlled by its voltage.'),
  ),
  constant: Type.Optional(ref(MotorConstant, 'Constant of a DC motor.')),
  stallCurrent: Type.Optional(ref(Current, 'Current of a blocked DC motor at the highest supply.')),
  winding: Type.Optional(
    Type.Object(
      {
        resistance: ref(Resistance, 'Resistance at work.'),
        temperature: Type.Optional(
          ref(
            Temperature,
            'Steady temperature at the required torque; absent without a thermal resistance, and where there is none below 300 Cel.',
          ),
        ),
      },
      { ...closed, description: 'The winding at work; absent for a stepper motor without phase.' },
    ),
  ),
  budget,
})

export const MotorDriveAnswer = calculationAnswer('MotorDriveAnswer', 'Motors on a mechanical head.', {
  headSpeeds: Type.Array(
    Type.Object(
      {
        speed: ref(Speed, 'Speed on the dial.'),
        headSpeed: ref(RotationalSpeed, 'Speed of the head.'),
      },
      { ...closed, description: 'Speed of the head at one speed on the dial.' },
    ),
    { maxItems: 10, description: 'From creep to top.' },
  ),
  motors: listOf(MotorOnHead, 20, 'Each motor, as listed.'),
  assumptions,
})
