import { Type } from '@sinclair/typebox'
import { FIRMWARE_TIMER } from './firmware.js'
import { lineText } from './texts.js'

/** What a profile does not say about the program. */
export const VehicleFirmwareQuery = Type.Object(
  {
    path: Type.Optional(lineText(80, 'Name of the path; left out: the first whose head takes pulses.')),
    counterBits: Type.Optional(FIRMWARE_TIMER.counterBits),
    integerBits: Type.Optional(FIRMWARE_TIMER.integerBits),
    speedParts: FIRMWARE_TIMER.speedParts,
  },
  { additionalProperties: false },
)
