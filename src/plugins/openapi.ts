import { readFile } from 'node:fs/promises'
import { join } from 'node:path'
import swagger from '@fastify/swagger'
import type { FastifyInstance } from 'fastify'
import { MODEL } from '../domain/model.js'
import type { Document } from '../reference/document.js'
import { namedShapes } from '../schemas/named-shapes.js'
import { PROGRAM_FOLDER, VERSION } from '../version.js'
import { openAnswers } from './openapi-answers.js'
import { type DocumentInMaking, type OperationInMaking, shareComponents } from './openapi-components.js'
import { describeConstraints } from './openapi-constraints.js'
import { staticResponse } from './static-response.js'

const DESCRIPTION = `From a car's road wheel to the speed on its dial: tire, drive path, pulses, head, rules.

Words: the head is the speedometer itself, with its dial and odometer. A drive path is the chain from a wheel to a head; each of its
stages multiplies turns or pulses. The constant of a head is the number of turns or pulses per mile or kilometer at which it reads
true. A dial over-reads if it shows more than the true speed. docs/nomenclature.md explains every word.

A measure is an object with its unit as the key: { "mph": 60, "plusMinus": 0.5 }. A request gives exactly one unit and, where known,
plusMinus, the uncertainty (95 %) in that unit; an answer gives every unit. Bodies are strict: an unknown field, a second unit, a
number written as text or a key given twice is refused, and the answer names the field.

Calculations need no key, nor does reading parts, fit reports and tire sizes. Every change of stored data, and everything about stored
vehicles, needs one.

Every error is application/problem+json (RFC 9457): GET /problems lists all kinds with their solutions. Besides the answers listed at
each operation, any request may be answered 404 (no such URL), 400 (URL that cannot be decoded), 405 (method not allowed; Allow lists
the others), 408 (not received in time) or 431 (headers longer than 16 KiB).

The version of this document is that of the program, which GET /livez and the header Server of every answer give. x-model is the
version of the computations, which answers give as model: it changes when an answer to the same input may change.

A speedometer is safety equipment. The rule table is a help, not legal advice: the inspection authority or a licensed shop decides.`

export const TAGS: ReadonlyArray<{ name: string; description: string }> = [
  {
    name: 'vehicle-checks',
    description:
      'The main job: what the dials of a vehicle read, and whether that is allowed, from its profile (tires, drive paths, rule). Every path of the vehicle is evaluated with its uncertainty and judged by the rule; findings come most severe first, remedies best first (a gear, adapter, scaler or constant that puts the reading right). Nothing is stored.',
  },
  {
    name: 'vehicles',
    description:
      'Profiles that an account has stored, with all earlier versions and their calibrations. A stored vehicle has a check, a worksheet and firmware constants under its id; a job ticket finds it by its own reference. A change names the version that it was made on, and the previous state is stored as a revision.',
  },
  {
    name: 'tires',
    description:
      'Sizes, geometry, rolling circumference, roll-out, comparison. A marking gives the rolling circumference to about 2.5 %, a roll-out on level ground to a few parts in a thousand: measure before you buy gears. A size whose letters name a load and no width has no formula; record it under tire-sizes.',
  },
  {
    name: 'drive-paths',
    description:
      'The product from wheel to dial: evaluate it, or solve it for a missing stage. A path is a tire, stages that multiply turns or pulses, and a head with the constant at which it reads true. Teeth and ratios are exact fractions; uncertainty comes from the tire and from what carries a plusMinus.',
  },
  {
    name: 'pulses',
    description:
      'Pulses per distance, frequencies, timing limits, scaling. Counting over a gate or timing a period, what each resolves, the lowest speed that a zero timeout lets through, the whole-number ratio of a scaler, and all constants that a small processor needs.',
  },
  {
    name: 'signals',
    description:
      'Smoothing filters, simulated pulse trains, recorded pulse logs. A filter trades noise against lag: the design says what is possible before a line of firmware is written, the simulation shows it on a drive, and a recorded log tells ring, sensor and timer faults apart.',
  },
  {
    name: 'gauges',
    description:
      'Gauge error, rules, calibration, dial scales. What a dial shows, compared with what a rule allows, as a probability of conformity; calibration from readings against a true speed, with the constant to set next; true speed over a measured course; an electric motor that drives an old head.',
  },
  {
    name: 'displays',
    description:
      'Lit displays behind a tinted filter. Light of the display passes the filter once, daylight that falls on the display twice: a darker filter helps against sunlight up to the point where its own surface reflects more than the display behind it.',
  },
  {
    name: 'odometers',
    description:
      "Error of the odometer. It follows the path, not the needle: an error of the head's spring or magnet does not reach it. A recorded GPS track gives the true distance to compare it with. Changing an odometer is restricted by law.",
  },
  {
    name: 'pick-ups',
    description:
      'Ways to pick up the speed, compared on one car. Cable, wheel or axle ring, propeller shaft, satellite: resolution, delay, lowest speed, error in bends and at standstill, and what each needs.',
  },
  {
    name: 'electrics',
    description:
      'Bus pull-ups, supply, wire, comparator thresholds, air gap, enclosure. What has to hold between the sensor and the display in a car of 6, 12 or 24 V, at both ends of every tolerance. Fuse and wire sizes are checked against the local electrical code.',
  },
  {
    name: 'gears',
    description:
      'Trains of wheels for a ratio. An exact search over the wheels at hand, one to three stages, with the convergents of the ratio and how evenly each pair wears.',
  },
  {
    name: 'cables',
    description:
      'Flexible shafts: drag of the parts and of the whole drive, bench tables, counts. Torque tests on single and coupled parts locate the drag; turns counted over a known distance give the actual ratio.',
  },
  {
    name: 'faults',
    description:
      'Finding the faulty link of a speedometer drive in the fewest minutes. The method assumes one fault. Each symptom and test updates the probabilities, and the next test is the one with the shortest expected search. docs/faults-reliability.md compares the stated probabilities with simulated faults.',
  },
  {
    name: 'parts',
    description:
      'Parts with the interfaces by which they fit others; candidates; bolt circles. Visible to everyone who uses the service, with their author. A candidate is a part whose interfaces meet within a tolerance: not proven until somebody tried it.',
  },
  {
    name: 'fits',
    description:
      'Reports of what fits what, on what evidence. Visible to everyone who uses the service; contradicting reports are shown side by side, with a score of how well the evidence supports the fit.',
  },
  {
    name: 'tire-sizes',
    description:
      'Tire sizes that users recorded, used after the built-in table. Every calculation then knows the size, and lists stored-tire-size among its sources.',
  },
  {
    name: 'health',
    description: 'For whoever runs the service: liveness, readiness and metrics.',
  },
  {
    name: 'reference',
    description:
      'Units, sources, problems and this document. Lists that programs can read: the size of each unit, how well a source is known, what an error means and how to solve it.',
  },
]

const INFO = {
  title: 'wheel-to-dial',
  description: DESCRIPTION,
  version: VERSION,
  'x-model': MODEL,
  license: { name: 'MIT', identifier: 'MIT' },
}

const header = (description: string, schema: object) => ({ description, schema })

/** Headers that plugins add to the responses of every route. */
const HEADERS = {
  RequestId: header(
    'Id of the request, also in the log of the service and in requestId of a problem; the caller may send one.',
    {
      type: 'string',
      maxLength: 200,
    },
  ),
  Server: header('The program and its version.', {
    type: 'string',
    pattern: '^wheel-to-dial/[0-9]+[.][0-9]+[.][0-9]+$',
  }),
  RateLimitPolicy: header(
    'The quota: q requests in w seconds, for the address or for the key. weight: how many requests this one counts for, if more than one. Absent without a limit.',
    { type: 'string', pattern: '^"(address|key)";q=[1-9][0-9]*;w=60(;weight=[1-9][0-9]*)?$' },
  ),
  RateLimit: header('What is left of the quota (r), and the seconds until it is full again (t).', {
    type: 'string',
    pattern: '^"(address|key)";r=[0-9]+;t=[0-9]+$',
  }),
  IdempotencyReplayed: header(
    'Nothing was done: this repeats the answer to the first request with this Idempotency-Key.',
    { type: 'string', enum: ['true'] },
  ),
}
const headerRef = (name: keyof typeof HEADERS) => ({ $ref: `#/components/headers/${name}` })

/** Documents the headers that plugins may add to each response. */
function addHeaders(operation: OperationInMaking): void {
  const isIdempotent = operation.parameters?.some(({ name }) => name === 'idempotency-key') ?? false
  for (const [status, response] of Object.entries(operation.responses ?? {})) {
    response.headers = {
      ...response.headers,
      'x-request-id': headerRef('RequestId'),
      server: headerRef('Server'),
      'ratelimit-policy': headerRef('RateLimitPolicy'),
      ratelimit: headerRef('RateLimit'),
    }
    if (isIdempotent && status.startsWith('2'))
      response.headers['idempotency-replayed'] = headerRef('IdempotencyReplayed')
  }
}

/**
 * Restores descriptions next to `$ref`: the generator drops them, as OpenAPI 3.0 required; 3.1 allows them.
 *
 * @param shape - The schema in the code
 * @param made - The same schema in the document
 */
function describeReferences(shape: object, made: object): void {
  const { $ref, description } = shape as { $ref?: unknown; description?: unknown }
  if (typeof $ref === 'string' && description !== undefined) Object.assign(made, { description })
  for (const [key, inner] of Object.entries(shape)) {
    const there = (made as Record<string, unknown>)[key]
    if (typeof inner === 'object' && inner !== null && typeof there === 'object' && there !== null)
      describeReferences(inner, there)
  }
}

/** Generates the OpenAPI document from the schemas of the routes. Await it before the first route. */
export async function registerOpenApi(app: FastifyInstance): Promise<void> {
  await app.register(swagger, {
    openapi: {
      openapi: '3.1.0',
      info: INFO,
      servers: [{ url: '/', description: 'This instance.' }],
      components: {
        securitySchemes: {
          key: {
            type: 'http',
            scheme: 'bearer',
            description:
              'A key of an account, made on the machine of the service: wheel-to-dial keys, in a clone npm run keys. A stored vehicle is visible to its own account only; parts, fit reports and tire sizes are visible to everyone.',
          },
        },
      },
      tags: TAGS.map((tag) => ({ ...tag })),
    },
    transformObject: (made) => {
      if (!('openapiObject' in made)) throw new Error('expected an OpenAPI document')
      const document = made.openapiObject
      const { schemas = {} } = document.components ?? {}
      for (const shape of namedShapes()) describeReferences(shape, schemas[shape.$id]!)
      document.components = { ...document.components, headers: HEADERS }
      const inMaking = document as DocumentInMaking
      const operations = Object.values(inMaking.paths ?? {}).flatMap((path) => Object.values(path))
      for (const operation of operations) addHeaders(operation)
      openAnswers(operations, schemas as object as Parameters<typeof openAnswers>[1])
      describeConstraints({ ...inMaking.paths, ...schemas } as object)
      shareComponents(inMaking)
      return document
    },
    refResolver: {
      buildLocalReference: (json, _baseUri, _fragment, index) =>
        typeof json.$id === 'string' ? json.$id : `def-${index}`,
    },
  })
}

let document: Promise<Document> | undefined

/** The OpenAPI document as it is committed, with the examples that `npm run generate` makes by calling the service; read at the first call. */
export function readDocument(): Promise<Document> {
  document ??= readFile(join(PROGRAM_FOLDER, 'openapi', 'openapi.json'), 'utf8').then(JSON.parse)
  return document!
}

/** Serves the OpenAPI document; the document does not describe this route itself. */
export function serveDocument(app: FastifyInstance): void {
  const make = async () => Buffer.from(JSON.stringify(await readDocument()))
  app.get(
    '/openapi.json',
    { schema: { hide: true } },
    staticResponse('application/json; charset=utf-8', make),
  )
}
