import { type Static, Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { Shaft } from './drive-paths.js'
import { SpeedTableRow, Verdict } from './gauges.js'
import { PerDistance, Ratio, Speed } from './measures.js'
import { listOf, ref, shape } from './named-shapes.js'
import { choice, plainOut } from './plain-values.js'
import { Remedy } from './remedies.js'

export const Finding = shape('Finding', 'A fact about the vehicle that affects its readings.', {
  code: Type.String({ description: 'Code of the finding, for programs.' }),
  level: choice(['fail', 'caution', 'info'], {
    description:
      'fail: a rule is not met, or something does not work. caution: not proven, or needs attention. info: good to know.',
  }),
  text: Type.String({ description: 'What was found, for people.' }),
  pointer: Type.String({ description: 'Field of the profile that it concerns, as a JSON Pointer.' }),
  remedy: Type.Optional(Type.String({ description: 'What to do about it.' })),
})

export const CheckedPath = shape(
  'CheckedPath',
  'One drive path, checked. resolutionAtTopSpeed is the step of true speed that one step of the timer makes at the top speed.',
  {
    name: Type.String({ description: 'Name of the path.' }),
    basis: choice(['computed', 'measured-output', 'measured-reading'], {
      description:
        'What the reading is based on: computed from the parts, measured turns or pulses, or a calibration of the whole.',
    }),
    shafts: listOf(Shaft, 21, 'Output of the wheel, then of each stage.'),
    output: ref(PerDistance, 'Turns or pulses per distance that reach the head.'),
    required: ref(PerDistance, 'Turns or pulses per distance at which the head reads true.'),
    indicatedPerTrue: ref(Ratio, 'Indicated over true speed, apart from the offset: above 1 it over-reads.'),
    odometerErrorPercent: plainOut('By how much the odometer over-reads [%].'),
    odometerErrorPlusMinusPercent: plainOut('Uncertainty of odometerErrorPercent, 95 % [percentage points].'),
    table: listOf(SpeedTableRow, 200, 'What the dial reads at each true speed.'),
    verdicts: listOf(
      Verdict,
      20,
      'Verdict by the rule, over all its speeds up to topSpeed, else dialMax, else 120 km/h.',
    ),
    budget: listOf(BudgetLine, 50, 'What the uncertainty of indicatedPerTrue comes from, largest first.'),
    cableTurns: Type.Optional(
      ref(PerDistance, 'Turns per distance of the cable into the head; absent where pulses reach it.'),
    ),
    pulses: Type.Optional(
      ref(PerDistance, 'Pulses per distance into the head; absent where a cable drives it.'),
    ),
    lowestSpeedShown: Type.Optional(
      ref(Speed, 'Lowest speed that is shown before the zero timeout; absent without pulses or zeroTimeout.'),
    ),
    resolutionAtTopSpeed: Type.Optional(
      ref(
        Speed,
        'Speed step that one timer tick makes at top speed; absent without pulses or timerTick, or when a pulse period is shorter than a tick.',
      ),
    ),
  },
)

export const VehicleCheckAnswer = calculationAnswer(
  'VehicleCheckAnswer',
  'A vehicle, checked from wheel to dial.',
  {
    paths: listOf(CheckedPath, 8, 'Each path, in the order of the profile.'),
    findings: listOf(Finding, 200, 'Most severe first.'),
    remedies: listOf(Remedy, 100, 'Best first.'),
  },
)
export type VehicleCheckShape = Static<typeof VehicleCheckAnswer>
