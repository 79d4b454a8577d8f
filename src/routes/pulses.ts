import { pulseRatioOut, pulseScalingOut } from '../border/pulses.js'
import { ref } from '../schemas/measures.js'
import {
  PulseRatioAnswer,
  PulseRatioRequest,
  PulseScalingAnswer,
  PulseScalingRequest,
} from '../schemas/pulses.js'
import type { App, RouteOptions } from './options.js'

const tags = ['pulses']

export function pulseRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.post(
    '/v1/pulses/ratio',
    {
      schema: {
        operationId: 'computePulseRatio',
        summary: 'Pulses per distance, and their timing',
        description:
          'From tire and ring: pulses per distance, frequency and period at each speed, resolution of a timer or a gate, the lowest speed shown, and the error of arithmetic with pi times the diameter.',
        tags,
        body: ref(PulseRatioRequest),
        response: { 200: ref(PulseRatioAnswer) },
      },
    },
    (request) => pulseRatioOut(request.body, sizeTable),
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
        tags,
        body: ref(PulseScalingRequest),
        // Every valid request has a nearest setting: there is no 422.
        response: { 200: ref(PulseScalingAnswer) },
      },
    },
    (request) => pulseScalingOut(request.body),
  )
}
