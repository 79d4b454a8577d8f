import { cableDrag } from '../domain/cables/cable-drag.js'
import { CableDragAnswer, CableDragRequest } from '../schemas/cable-drag.js'
import { SEARCH } from '../schemas/rate-weights.js'
import { calculation } from './calculation.js'
import type { App } from './options.js'

/** A hundred tests of 20 parts each, with names of 50 letters. The schema admits 750 kB, with each letter of each name escaped. */
const BODY_LIMIT = 131_072

export function cableDragRoutes(app: App): void {
  app.post('/v1/cables/drag', {
    bodyLimit: BODY_LIMIT,
    ...calculation({
      id: 'attributeDrag',
      weight: SEARCH,
      summary: 'Drag of each part of a mechanical drive',
      description:
        'Takes torque tests on parts and on parts coupled together. Returns the drag of each part with its uncertainty, the torque of the whole in place beyond its parts, findings with possible causes, and the most informative next tests.',
      tag: 'cables',
      body: CableDragRequest,
      answer: CableDragAnswer,
      compute: cableDrag,
    }),
  })
}
