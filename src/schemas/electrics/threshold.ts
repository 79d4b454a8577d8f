import { Type } from '@sinclair/typebox'
import { calculationAnswer } from '../answers.js'
import { assumptions } from '../assumptions.js'
import {
  Capacitance,
  Frequency,
  PerDistanceIn,
  Ratio,
  Resistance,
  Speed,
  SpeedIn,
  Time,
  Voltage,
} from '../measures.js'
import { closed, named, ref } from '../named-shapes.js'
import { plain } from '../plain-values.js'
import { CapacitanceIn, LevelVoltageIn, NoiseFrequencyIn, ResistanceIn, VoltageIn } from './quantities.js'
import { budget } from './verdicts.js'

export const ThresholdRequest = named(
  'ThresholdRequest',
  Type.Object(
    {
      supply: ref(VoltageIn, 'Supply voltage of the comparator.', 'supply'),
      resistors: Type.Optional(
        Type.Object(
          {
            toSupply: ref(
              ResistanceIn,
              'Resistor from the supply to the reference input.',
              'resistor to supply',
            ),
            toGround: ref(ResistanceIn, 'Resistor from the reference input to ground.', 'resistor to ground'),
            fromOutput: ref(
              ResistanceIn,
              'Resistor from the output to the reference input: it makes the hysteresis.',
              'resistor from output',
            ),
          },
          { ...closed, description: 'The three resistors that are fitted; left out, they are chosen.' },
        ),
      ),
      hysteresis: Type.Optional(
        ref(
          VoltageIn,
          'Hysteresis wanted, upper less lower threshold; not beside resistors. Left out: chosen from noise and signal.',
          'hysteresis',
        ),
      ),
      outputHigh: Type.Optional(
        ref(LevelVoltageIn, 'Output voltage when high; left out: the supply.', 'output high'),
      ),
      outputLow: Type.Optional(ref(LevelVoltageIn, 'Output voltage when low; left out: 0 V.', 'output low')),
      bias: Type.Optional(
        ref(
          LevelVoltageIn,
          'Voltage that the sensor signal swings about; left out: the midpoint of the thresholds.',
          'bias',
        ),
      ),
      tolerancePercent: Type.Optional(
        plain({
          minimum: 0,
          maximum: 20,
          description: 'Tolerance of the resistors that are chosen [%]; left out: 1.',
        }),
      ),
      sensor: Type.Optional(
        Type.Object(
          {
            amplitude: ref(
              VoltageIn,
              'Peak of the open-circuit voltage at the speed at.',
              'sensor: amplitude',
            ),
            at: ref(SpeedIn, 'Speed at which amplitude was measured.', 'sensor: speed of the amplitude'),
            pulses: ref(PerDistanceIn, 'Pulses of the sensor per distance.', 'sensor: pulses per distance'),
            amplitudeAtTopSpeed: Type.Optional(
              ref(
                VoltageIn,
                'Peak of the open-circuit voltage at topSpeed; needs topSpeed. Left out: proportional to speed.',
                'sensor: amplitude at top speed',
              ),
            ),
          },
          {
            ...closed,
            description:
              'A magnetic sensor: peak of its open voltage at a low speed, its pulses per distance, and its peak at topSpeed where that was measured (else taken as proportional to speed).',
          },
        ),
      ),
      topSpeed: Type.Optional(
        ref(
          SpeedIn,
          'Highest speed; needs sensor. Left out: the answer does not cover it, and no filter is chosen.',
          'top speed',
        ),
      ),
      lowestSpeed: Type.Optional(
        ref(
          SpeedIn,
          'Lowest speed that should still be read; needs sensor. Left out: the lowest one is only reported.',
          'lowest wanted speed',
        ),
      ),
      noise: Type.Optional(
        Type.Object(
          {
            peakToPeak: ref(VoltageIn, 'Noise at the input, peak to peak.', 'noise'),
            frequency: Type.Optional(
              ref(
                NoiseFrequencyIn,
                'Frequency at which most of the noise lies; left out: the filter is not counted on against it.',
                'noise: frequency',
              ),
            ),
          },
          {
            ...closed,
            description: 'Noise at the input; without its frequency the filter is not counted on.',
          },
        ),
      ),
      filter: Type.Optional(
        Type.Object(
          {
            resistance: ref(ResistanceIn, 'Series resistor of the low-pass filter.', 'filter: resistor'),
            capacitance: ref(CapacitanceIn, 'Capacitor of the low-pass filter.', 'filter: capacitor'),
          },
          {
            ...closed,
            description: 'The low-pass that is fitted; left out, it is chosen for the top speed.',
          },
        ),
      ),
      cornerRatio: Type.Optional(
        plain({
          minimum: 0.1,
          maximum: 20,
          description: 'Corner of a chosen filter over the highest frequency; left out: 2.',
        }),
      ),
    },
    {
      ...closed,
      dependentRequired: { topSpeed: ['sensor'], lowestSpeed: ['sensor'], cornerRatio: ['topSpeed'] },
      dependentSchemas: {
        resistors: { properties: { hysteresis: false, tolerancePercent: false } },
        filter: { properties: { cornerRatio: false } },
        sensor: {
          anyOf: [
            { required: ['topSpeed'] },
            { properties: { sensor: { properties: { amplitudeAtTopSpeed: false } } } },
          ],
        },
      },
      description: 'Comparator input: resistors that are fitted, or a sensor to choose them for.',
      examples: [
        {
          supply: { v: 5 },
          resistors: {
            toSupply: { kohm: 10, plusMinus: 0.1 },
            toGround: { kohm: 10, plusMinus: 0.1 },
            fromOutput: { kohm: 100, plusMinus: 1 },
          },
        },
        {
          supply: { v: 5, plusMinus: 0.1 },
          sensor: { amplitude: { v: 1.5, plusMinus: 0.2 }, at: { kmh: 20 }, pulses: { perKm: 4000 } },
          topSpeed: { kmh: 160 },
          lowestSpeed: { kmh: 5 },
          noise: { peakToPeak: { mv: 40 }, frequency: { hz: 20000 } },
        },
      ],
    },
  ),
)

export const ThresholdAnswer = calculationAnswer(
  'ThresholdAnswer',
  'Thresholds of a comparator and what a sensor makes of them.',
  {
    resistors: Type.Object(
      {
        toSupply: ref(Resistance, 'Resistor from the supply to the reference input.'),
        toGround: ref(Resistance, 'Resistor from the reference input to ground.'),
        fromOutput: ref(Resistance, 'Resistor from the output to the reference input.'),
        chosen: Type.Boolean({ description: 'Chosen here, not given.' }),
      },
      { ...closed, description: 'The resistors.' },
    ),
    upper: ref(Voltage, 'Upper threshold: the output switches as the input rises through it.'),
    lower: ref(Voltage, 'Lower threshold: the output switches back as the input falls through it.'),
    hysteresis: ref(Voltage, 'Upper less lower threshold.'),
    midpoint: ref(Voltage, 'Mean of the two thresholds.'),
    bias: ref(Voltage, 'Voltage that the sensor signal swings about.'),
    budget,
    assumptions,
    filter: Type.Optional(
      Type.Object(
        {
          resistance: ref(Resistance, 'Series resistor of the filter.'),
          capacitance: ref(Capacitance, 'Capacitor of the filter.'),
          cornerFrequency: ref(Frequency, 'Frequency at which the filter passes 71 %.'),
          chosen: Type.Boolean({ description: 'Chosen here, not given.' }),
          delay: ref(Time, 'Delay of the signal at low frequencies.'),
          gainAtTopSpeed: Type.Optional(
            ref(Ratio, 'Share of the amplitude that passes at top speed; absent without topSpeed.'),
          ),
          noiseGain: Type.Optional(
            ref(Ratio, 'Share of the noise that passes; absent without its frequency.'),
          ),
        },
        { ...closed, description: 'The low-pass ahead of the comparator.' },
      ),
    ),
    sensor: Type.Optional(
      Type.Object(
        {
          requiredAmplitude: ref(Voltage, 'Peak that the comparator needs at its input to switch.'),
          lowestSpeed: Type.Optional(
            ref(Speed, 'Lowest speed that gives that peak; absent when no speed does.'),
          ),
          highestFrequency: Type.Optional(
            ref(Frequency, 'Pulse frequency at top speed; absent without topSpeed.'),
          ),
          openCircuitAtTopSpeed: Type.Optional(
            ref(Voltage, 'Peak of the open-circuit voltage at top speed; absent without topSpeed.'),
          ),
          inputAtTopSpeed: Type.Optional(
            ref(Voltage, 'Peak at the comparator at top speed, behind the filter; absent without topSpeed.'),
          ),
        },
        {
          ...closed,
          description:
            'Peak that the comparator needs, lowest speed that gives it, and what comes at top speed.',
        },
      ),
    ),
    hysteresisOverNoise: Type.Optional(
      ref(
        Ratio,
        'Hysteresis over the peak-to-peak noise behind the filter: 2 or more is safe. Absent without noise.',
      ),
    ),
  },
)
