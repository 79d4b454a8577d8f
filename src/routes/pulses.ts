import { writing } from '../codec/answer.js'
import { decoder } from '../codec/decoder.js'
import { pulseRatio } from '../domain/pulses/ratio.js'
import { exactPerKm, pulseScaling } from '../domain/pulses/scaling.js'
import { ref } from '../schemas/named-shapes.js'
import {
  PulseRatioAnswer,
  PulseRatioRequest,
  PulseScalingAnswer,
  PulseScalingRequest,
} from '../schemas/pulses.js'
import { calculation } from './calculation.js'
import type { App, RouteOptions } from './options.js'

const tag = 'pulses'

const scalingOf = decoder(PulseScalingRequest)
const scalingAnswer = writing({ answer: PulseScalingAnswer, compute: pulseScaling })

export function pulseRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.post(
    '/v1/pulses/ratio',
    calculation(
      {
        id: 'computePulseRatio',
        summary: 'Pulses per distance, and their timing',
        description:
          'From tire and ring: pulses per distance, frequency and period at each speed, resolution of a timer or a gate, the lowest speed shown, and the error of arithmetic with pi times the diameter.',
        tag,
        body: PulseRatioRequest,
        answer: PulseRatioAnswer,
        compute: pulseRatio,
      },
      sizeTable,
    ),
  )

  app.post(
    '/v1/pulses/scaling',
    {
      config: { neverAnswers: [422] },
      schema: {
        operationId: 'computePulseScaling',
        summary: 'Scaler settings',
        description:
          'Whole numbers, or the word of a phase accumulator, that convert the available pulses into those that a head needs.',
        tags: [tag],
        body: ref(PulseScalingRequest),
        // Every valid request has a nearest setting: there is no 422.
        response: { 200: ref(PulseScalingAnswer) },
      },
    },
    // The exact ratio is that of the figures as written: in SI they are rounded.
    ({ body }) => scalingAnswer(scalingOf(body), exactPerKm(body.to).div(exactPerKm(body.from))),
  )
}
