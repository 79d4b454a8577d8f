import { legibility } from '../domain/displays/legibility.js'
import { LegibilityAnswer, LegibilityRequest } from '../schemas/displays.js'
import { calculation } from './calculation.js'
import type { App } from './options.js'

export function displayRoutes(app: App): void {
  app.post(
    '/v1/displays/legibility',
    calculation({
      id: 'checkLegibility',
      summary: 'Legibility of a lit display behind a filter',
      description:
        'Contrast in sunlight behind each of several tinted filters, the filters that serve, the dimming for the night, and the size of the characters at the viewing distance.',
      tag: 'displays',
      body: LegibilityRequest,
      answer: LegibilityAnswer,
      compute: legibility,
    }),
  )
}
