import { Type } from '@sinclair/typebox'
import { measureIn, measureOut, ofQuantity, PLUS_MINUS_BELOW, type Typed } from './measure-shapes.js'
import { named } from './named-shapes.js'
import { plain, plainOut } from './plain-values.js'

export const Length = measureOut('Length', 'length', 'A length.')
export const Distance = measureOut('Distance', 'distance', 'A distance along the road.')
export const Speed = measureOut('Speed', 'speed', 'A speed, or a difference of speeds.')
export const PerDistance = measureOut('PerDistance', 'perDistance', 'Turns or pulses per distance.')
export const RotationalSpeed = measureOut('RotationalSpeed', 'rotational-speed', 'A rate of turning.')
export const Frequency = measureOut('Frequency', 'frequency', 'A frequency.')
export const Time = measureOut('Time', 'time', 'A time.')
export const Torque = measureOut('Torque', 'torque', 'A torque.')

export const Angle = measureOut('Angle', 'angle', 'An angle on a dial, clockwise from straight up.')
export const Voltage = measureOut('Voltage', 'voltage', 'A voltage.')
export const Current = measureOut('Current', 'current', 'A current.')
export const Resistance = measureOut('Resistance', 'resistance', 'A resistance.')
export const Capacitance = measureOut('Capacitance', 'capacitance', 'A capacitance.')
export const Temperature = measureOut('Temperature', 'temperature', 'A temperature.')
export const TemperatureDifference = measureOut(
  'TemperatureDifference',
  'temperatureDifference',
  'A difference of two temperatures.',
)
export const Span = measureOut('Span', 'span', 'Length of a lead, or radius of a bend.')
export const Area = measureOut('Area', 'area', 'An area.')
export const Power = measureOut('Power', 'power', 'A power.')
export const Energy = measureOut('Energy', 'energy', 'An energy.')
export const PowerPerLength = measureOut('PowerPerLength', 'powerPerLength', 'Heat per length.')
export const ResistancePerLength = measureOut(
  'ResistancePerLength',
  'resistancePerLength',
  'Resistance per length of one conductor.',
)

export const TireLengthIn = measureIn('TireLengthIn', 'length', {
  min: 0.1,
  max: 10,
  description: 'Diameter or rolling circumference of a tire.',
})
export const TreadWearIn = measureIn('TreadWearIn', 'length', {
  min: 0,
  max: 0.05,
  description: 'Loss of tread depth against new.',
})
export const DistanceIn = measureIn('DistanceIn', 'distance', {
  min: 0.1,
  max: 5e9,
  description: 'A distance along the road.',
})
export const SpeedIn = measureIn('SpeedIn', 'speed', {
  min: 0.01,
  max: 280,
  description: 'A speed.',
})
export const SetSpeedIn = measureIn('SetSpeedIn', 'speed', {
  min: 0.01,
  max: 280,
  description:
    'A speed that is set or asked for, not measured: a top speed, a mark of a dial, a point of a table.',
  uncertainty: false,
})
export const SpeedDifferenceIn = measureIn('SpeedDifferenceIn', 'speed', {
  min: -60,
  max: 60,
  description: 'A difference of two speeds.',
})
export const PerDistanceIn = measureIn('PerDistanceIn', 'perDistance', {
  min: 1e-3,
  max: 1e4,
  description: 'Turns or pulses per distance.',
})
export const SetPerDistanceIn = measureIn('SetPerDistanceIn', 'perDistance', {
  min: 1e-3,
  max: 1e4,
  description: 'Turns or pulses per distance that are set or computed, not measured.',
  uncertainty: false,
})
export const TimeIn = measureIn('TimeIn', 'time', { min: 1e-8, max: 1e6, description: 'A time.' })
export const SetTimeIn = measureIn('SetTimeIn', 'time', {
  min: 1e-8,
  max: 1e6,
  description: 'A time that is set, not measured: a time-out, a step of a timer.',
  uncertainty: false,
})
export const FrequencyIn = measureIn('FrequencyIn', 'frequency', {
  min: 1e-3,
  max: 1e9,
  description: 'A frequency.',
})

/** Beside two figures of one fit. */
export const CorrelationIn = plain({
  minimum: -1,
  maximum: 1,
  description:
    'Correlation of scale and offset, as their calibration gives it; counts where both carry their uncertainty. Left out: 0.',
})

/** A ratio in a request: a plain number, or a value with its uncertainty. */
const ratioIn = (
  id: string,
  { what, minimum, maximum }: { what: string; minimum: number; maximum: number },
) =>
  named(
    id,
    Type.Unsafe<number | ({ value: number; plusMinus?: number } & Typed<'ratio', 'estimate'>)>(
      ofQuantity(
        {
          description: `${what}: a plain number taken as exact, or { value, plusMinus } with its uncertainty (95 %).`,
          anyOf: [
            { type: 'number', minimum, maximum, 'x-dimensionless': true, description: 'The ratio.' },
            {
              type: 'object',
              additionalProperties: false,
              required: ['value'],
              properties: {
                value: {
                  type: 'number',
                  minimum,
                  maximum,
                  'x-dimensionless': true,
                  description: 'The ratio.',
                },
                plusMinus: {
                  type: 'number',
                  minimum: 0,
                  maximum,
                  'x-dimensionless': true,
                  description: 'Uncertainty of the ratio, 95 %; left out: taken as exact.',
                },
              },
              [PLUS_MINUS_BELOW]: 'value',
            },
          ],
        },
        'ratio',
        'estimate',
      ),
    ),
  )

export const RatioIn = ratioIn('RatioIn', { what: 'A ratio', minimum: 0.001, maximum: 10_000 })
export const ShareIn = ratioIn('ShareIn', {
  what: 'A share of a whole, 0.0001 to 1',
  minimum: 0.0001,
  maximum: 1,
})

/** A ratio in an answer. */
export const Ratio = named(
  'Ratio',
  Type.Unsafe<{ value: number; plusMinus: number } & Typed<'ratio', 'answer'>>(
    ofQuantity(
      Type.Object(
        {
          value: plainOut('The ratio.'),
          plusMinus: plainOut('Uncertainty of the ratio, 95 %; 0 when none of its inputs has any.'),
        },
        { additionalProperties: false, description: 'A ratio with its uncertainty.' },
      ),
      'ratio',
      'answer',
    ),
  ),
)
