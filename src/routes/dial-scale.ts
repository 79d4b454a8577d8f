import { printedScale } from '../domain/gauges/printed-scale.js'
import { preferred } from '../http/accept.js'
import { varyBy } from '../http/vary.js'
import { dialScaleSvg } from '../paper/dial-scale.js'
import { VARY } from '../schemas/answers.js'
import { DialScaleAnswer, DialScaleRequest } from '../schemas/dial-scale.js'
import { ref } from '../schemas/named-shapes.js'
import { answering } from './calculation.js'
import type { App } from './options.js'

const tags = ['gauges']

const dialScaleAnswer = answering({
  body: DialScaleRequest,
  answer: DialScaleAnswer,
  compute: printedScale,
})

export function dialScaleRoutes(app: App): void {
  app.post(
    '/v1/gauges/dial-scale',
    {
      schema: {
        operationId: 'computeDialScale',
        summary: 'Scale of a dial',
        description:
          'A new scale for a dial whose pointer was measured at some known speeds, or is taken as linear: the angle of every mark with its uncertainty, in one unit or both. As JSON, or with Accept: image/svg+xml as a drawing in true millimeters with bars to prove the print.',
        tags,
        body: ref(DialScaleRequest),
        response: {
          200: {
            description: 'The scale.',
            headers: VARY,
            content: {
              'application/json': { schema: ref(DialScaleAnswer) },
              'image/svg+xml': { schema: { type: 'string', description: 'The drawing (SVG).' } },
            },
          },
        },
      },
    },
    (request, reply) => {
      const mediaType = preferred(request.headers.accept, ['application/json', 'image/svg+xml'])
      const made = dialScaleAnswer(request.body)
      varyBy(reply, 'accept')
      return mediaType === 'image/svg+xml'
        ? reply.type('image/svg+xml; charset=utf-8').send(dialScaleSvg(made))
        : made
    },
  )
}
