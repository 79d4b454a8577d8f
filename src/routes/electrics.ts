import { reading } from '../codec/request.js'
import { airGap } from '../domain/electrics/air-gap.js'
import { enclosure, enclosureIsHeavy } from '../domain/electrics/enclosure.js'
import { pullUp } from '../domain/electrics/pull-up.js'
import { supply } from '../domain/electrics/supply.js'
import { threshold } from '../domain/electrics/threshold.js'
import { wire } from '../domain/electrics/wire.js'
import { AirGapAnswer, AirGapRequest } from '../schemas/electrics/air-gap.js'
import { EnclosureAnswer, EnclosureRequest } from '../schemas/electrics/enclosure.js'
import { PullUpAnswer, PullUpRequest } from '../schemas/electrics/pull-up.js'
import { SupplyAnswer, SupplyRequest } from '../schemas/electrics/supply.js'
import { ThresholdAnswer, ThresholdRequest } from '../schemas/electrics/threshold.js'
import { WireAnswer, WireRequest } from '../schemas/electrics/wire.js'
import { SEARCH } from '../schemas/rate-weights.js'
import { calculation, calculationSchema } from './calculation.js'
import { enclosureAnswer } from './enclosure-answer.js'
import { inThread } from './in-thread.js'
import type { App, RouteOptions } from './options.js'

const tag = 'electrics'

const enclosureRequest = reading({ body: EnclosureRequest, compute: enclosure })

export function electricsRoutes(app: App, options: RouteOptions): void {
  app.post(
    '/v1/electrics/pull-up',
    calculation({
      id: 'computePullUp',
      summary: 'Pull-up of a two-wire bus',
      description:
        'Range of the pull-up for a supply, a rise time and a bus or its lead; the best standard resistor; and, if there is no range, what to shorten, slow down or replace, and by how much.',
      tag,
      body: PullUpRequest,
      answer: PullUpAnswer,
      compute: pullUp,
    }),
  )

  app.post(
    '/v1/electrics/supply',
    calculation({
      id: 'checkSupply',
      summary: 'Supply of the electronics',
      description:
        'Input current and heat over the range of the car’s supply, fuse, and the ratings of the converter against load dump, jump start, reversed battery and cranking.',
      tag,
      body: SupplyRequest,
      answer: SupplyAnswer,
      compute: supply,
    }),
  )

  app.post(
    '/v1/electrics/wire',
    calculation({
      id: 'computeWire',
      summary: 'Drop, heating and fuse of a wire',
      description:
        'Voltage drop at the temperature of the conductor, heat per length, current capacity, fuses that carry the load and protect the wire, and other sizes.',
      tag,
      body: WireRequest,
      answer: WireAnswer,
      compute: wire,
    }),
  )

  app.post(
    '/v1/electrics/threshold',
    calculation({
      id: 'computeThreshold',
      summary: 'Comparator thresholds and input filter of a sensor',
      description:
        'Thresholds of a comparator from its resistors, or resistors from the amplitude, noise and lowest speed of a magnetic sensor; the low-pass filter before it; the lowest speed that triggers.',
      tag,
      body: ThresholdRequest,
      answer: ThresholdAnswer,
      compute: threshold,
    }),
  )

  app.post(
    '/v1/electrics/air-gap',
    calculation({
      id: 'checkAirGap',
      summary: 'Air gap and ring of a pick-up',
      description:
        'Pitch and module of a ring, the air gap over a whole turn with run-out and play, the effect of run-out on amplitude and speed, and whether sensor and ring are compatible.',
      tag,
      body: AirGapRequest,
      answer: AirGapAnswer,
      compute: airGap,
    }),
  )

  app.post(
    '/v1/electrics/enclosure',
    {
      schema: calculationSchema({
        body: EnclosureRequest,
        answer: EnclosureAnswer,
        id: 'checkEnclosure',
        weight: SEARCH,
        summary: 'Temperature of an enclosure',
        description:
          'Temperature of a box on the dashboard, in the engine compartment or in measured surroundings, compared with the glass transition of its material and the rating of the parts inside.',
        tag,
        errors: [503],
      }),
    },
    ({ body }, reply) => {
      const request = enclosureRequest(body)
      return enclosureIsHeavy(request)
        ? inThread(reply, options, 'enclosure', request)
        : enclosureAnswer(request)
    },
  )
}
