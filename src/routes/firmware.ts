import { firmwareConstants } from '../domain/pulses/firmware.js'
import { preferred } from '../http/accept.js'
import { firmwareHeader } from '../http/firmware-header.js'
import { varyBy } from '../http/vary.js'
import { VARY } from '../schemas/answers.js'
import { FirmwareAnswer, FirmwareRequest } from '../schemas/firmware.js'
import { ref } from '../schemas/named-shapes.js'
import { answering } from './calculation.js'
import type { App, RouteOptions } from './options.js'

const tags = ['pulses']

const firmwareAnswer = answering({
  body: FirmwareRequest,
  answer: FirmwareAnswer,
  compute: firmwareConstants,
})

export function firmwareRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.post(
    '/v1/pulses/firmware-constants',
    {
      schema: {
        operationId: 'computeFirmwareConstants',
        summary: 'Firmware constants',
        description:
          'All constants for the firmware of a display: speed times period as whole and floating numbers, limits of the widths, timeout in ticks, filter shift, pulses per odometer step and their residue. As JSON, or as a C header with Accept: text/x-c.',
        tags,
        body: ref(FirmwareRequest),
        response: {
          200: {
            description: 'The firmware constants.',
            headers: VARY,
            content: {
              'application/json': { schema: ref(FirmwareAnswer) },
              'text/x-c': { schema: { type: 'string', description: 'A C header.' } },
            },
          },
        },
      },
    },
    (request, reply) => {
      const mediaType = preferred(request.headers.accept, ['application/json', 'text/x-c'])
      const made = firmwareAnswer(request.body, sizeTable)
      varyBy(reply, 'accept')
      return mediaType === 'text/x-c'
        ? reply.type('text/x-c; charset=utf-8').send(firmwareHeader(made))
        : made
    },
  )
}
