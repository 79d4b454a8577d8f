import { type Static, Type } from '@sinclair/typebox'
import { FIRMWARE_TIMER } from './firmware.js'

/** What a profile does not say about the program. */
export const VehicleFirmwareQuery = Type.Object(
  {
    path: Type.Optional(
      Type.String({
        minLength: 1,
        maxLength: 80,
        description: 'Name of the path; left out: the first whose head takes pulses.',
      }),
    ),
    counterBits: Type.Optional(FIRMWARE_TIMER.counterBits),
    integerBits: Type.Optional(FIRMWARE_TIMER.integerBits),
    speedParts: FIRMWARE_TIMER.speedParts,
  },
  { additionalProperties: false },
)

export type FirmwareQuery = Static<typeof VehicleFirmwareQuery>
