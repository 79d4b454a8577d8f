import { Type } from '@sinclair/typebox'
import { named, ref, Temperature, TemperatureDifference } from '../measures.js'

const closed = { additionalProperties: false }

const RANGE =
  'Between what it lies, 95 %. The rise goes with 1 over the heat transfer, so the hot side is the longer one; plusMinus of the value is the longer side. That of a wire ends at 300 °C; where it does, the wire may not settle at all.'
export const TemperatureRange = named(
  'TemperatureRange',
  Type.Object(
    { min: ref(Temperature, 'Lower end.'), max: ref(Temperature, 'Upper end.') },
    { ...closed, description: RANGE },
  ),
)
export const TemperatureDifferenceRange = named(
  'TemperatureDifferenceRange',
  Type.Object(
    { min: ref(TemperatureDifference, 'Lower end.'), max: ref(TemperatureDifference, 'Upper end.') },
    { ...closed, description: RANGE },
  ),
)
