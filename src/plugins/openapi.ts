import swagger from '@fastify/swagger'
import type { FastifyInstance } from 'fastify'
import { MODEL } from '../domain/model.js'

const DESCRIPTION = `From a car's road wheel to the speed on its dial: tire, drive path, pulses, head, rules.

A measure is keyed by its unit: in requests exactly one unit key and, where known, plusMinus (95 %, same unit); in answers every
unit. Bodies are strict: an unknown field, a second unit key, a number written as text or a key that stands twice is refused, and
the answer names the field. Every error is application/problem+json (RFC 9457).

A speedometer is safety equipment. The rule table is a help, not legal advice: the inspection authority or a licensed shop decides.`

export const TAGS: ReadonlyArray<{ name: string; description: string }> = [
  {
    name: 'vehicle-checks',
    description: 'The main job: a whole profile in, what the dial reads and whether that is allowed out.',
  },
  {
    name: 'vehicles',
    description: 'Profiles that an account keeps, with every state they had and their calibrations.',
  },
  { name: 'tires', description: 'Sizes, geometry, rolling circumference, roll-out, comparison.' },
  {
    name: 'drive-paths',
    description: 'The product from wheel to dial: evaluate it, or solve it for a missing stage.',
  },
  { name: 'pulses', description: 'Pulses per distance, frequencies, timing limits, scaling.' },
  { name: 'signals', description: 'Smoothing filters, simulated pulse trains, recorded pulse logs.' },
  { name: 'gauges', description: 'Gauge error, rules, calibration, dial scales.' },
  { name: 'odometers', description: 'Error of the distance record.' },
  { name: 'pick-ups', description: 'Ways to pick up the speed, compared on one car.' },
  {
    name: 'electrics',
    description: 'Bus pull-ups, supply, wire, comparator thresholds, air gap, enclosure.',
  },
  { name: 'gears', description: 'Trains of wheels for a ratio.' },
  { name: 'cables', description: 'Flexible shafts: drag of parts and of the whole, bench tables, counts.' },
  { name: 'faults', description: 'Finding the link that fails, in the fewest minutes.' },
  {
    name: 'parts',
    description: 'Parts with the interfaces by which they fit others; candidates; bolt circles.',
  },
  { name: 'fits', description: 'Statements of what fits what, on what evidence.' },
  { name: 'tire-sizes', description: 'Tire sizes that users recorded, used after the built-in table.' },
  {
    name: 'health',
    description: 'For whoever runs the service: whether it lives, is ready, and how it does.',
  },
  { name: 'reference', description: 'Units, sources, problems and this document.' },
]

/** The OpenAPI document is made from the schemas of the routes. Await it before the first route. */
export async function registerOpenApi(app: FastifyInstance): Promise<void> {
  await app.register(swagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'wheel-to-dial',
        description: DESCRIPTION,
        version: MODEL,
        license: { name: 'MIT', identifier: 'MIT' },
      },
      servers: [{ url: '/', description: 'This instance.' }],
      components: {
        securitySchemes: {
          key: {
            type: 'http',
            scheme: 'bearer',
            description:
              'A key of an account, made with npm run keys. Calculations need none; stored vehicles are seen by their own account alone.',
          },
        },
      },
      tags: TAGS.map((tag) => ({ ...tag })),
    },
    refResolver: {
      buildLocalReference: (json, _baseUri, _fragment, index) =>
        typeof json.$id === 'string' ? json.$id : `def-${index}`,
    },
  })
}
