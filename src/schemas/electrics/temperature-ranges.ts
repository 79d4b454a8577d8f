import { Type } from '@sinclair/typebox'
import { Temperature, TemperatureDifference } from '../measures.js'
import { closed, named, ref } from '../named-shapes.js'

const RANGE =
  'Range that contains the value with 95 %. It is not symmetric, because the rise is proportional to 1 / heat transfer: the hot side is longer, and plusMinus of the value is that side. For a wire it ends at 300 °C; if it does, the wire may not reach a steady temperature.'
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
