import {
  airGapAnswer,
  enclosureAnswer,
  enclosureIsHeavy,
  pullUpAnswer,
  supplyAnswer,
  thresholdAnswer,
  wireAnswer,
} from '../border/electrics.js'
import {
  AirGapAnswer,
  AirGapRequest,
  EnclosureAnswer,
  EnclosureRequest,
  PullUpAnswer,
  PullUpRequest,
  SupplyAnswer,
  SupplyRequest,
  ThresholdAnswer,
  ThresholdRequest,
  WireAnswer,
  WireRequest,
} from '../schemas/electrics.js'
import { ref } from '../schemas/measures.js'
import { calculationProblems, problems } from '../schemas/problems.js'
import { SEARCH } from '../schemas/rate-weights.js'
import { inThread } from './in-thread.js'
import type { App, RouteOptions } from './options.js'

const tags = ['electrics']

export function electricsRoutes(app: App, options: RouteOptions): void {
  app.post(
    '/v1/electrics/pull-up',
    {
      schema: {
        operationId: 'computePullUp',
        summary: 'Pull-up of a two-wire bus',
        description:
          'Range of the pull-up for a supply, a rise time and a bus or its lead; the best standard resistor; and, if there is no range, what to shorten, slow down or replace, and by how much.',
        tags,
        body: ref(PullUpRequest),
        response: { 200: ref(PullUpAnswer), ...calculationProblems() },
      },
    },
    (request) => pullUpAnswer(request.body),
  )

  app.post(
    '/v1/electrics/supply',
    {
      schema: {
        operationId: 'checkSupply',
        summary: 'Supply of the electronics',
        description:
          'Input current and heat over the range of the car’s supply, fuse, and the ratings of the converter against load dump, jump start, reversed battery and cranking.',
        tags,
        body: ref(SupplyRequest),
        response: { 200: ref(SupplyAnswer), ...calculationProblems() },
      },
    },
    (request) => supplyAnswer(request.body),
  )

  app.post(
    '/v1/electrics/wire',
    {
      schema: {
        operationId: 'computeWire',
        summary: 'Drop, heating and fuse of a wire',
        description:
          'Voltage drop at the temperature of the conductor, heat per length, current capacity, fuses that carry the load and protect the wire, and other sizes.',
        tags,
        body: ref(WireRequest),
        response: { 200: ref(WireAnswer), ...calculationProblems() },
      },
    },
    (request) => wireAnswer(request.body),
  )

  app.post(
    '/v1/electrics/threshold',
    {
      schema: {
        operationId: 'computeThreshold',
        summary: 'Comparator thresholds and input filter of a sensor',
        description:
          'Thresholds of a comparator from its resistors, or resistors from the amplitude, noise and lowest speed of a magnetic sensor; the low-pass filter before it; the lowest speed that triggers.',
        tags,
        body: ref(ThresholdRequest),
        response: { 200: ref(ThresholdAnswer), ...calculationProblems() },
      },
    },
    (request) => thresholdAnswer(request.body),
  )

  app.post(
    '/v1/electrics/air-gap',
    {
      schema: {
        operationId: 'checkAirGap',
        summary: 'Air gap and ring of a pick-up',
        description:
          'Pitch and module of a ring, the air gap over a whole turn with run-out and play, the effect of run-out on amplitude and speed, and whether sensor and ring are compatible.',
        tags,
        body: ref(AirGapRequest),
        response: { 200: ref(AirGapAnswer), ...calculationProblems() },
      },
    },
    (request) => airGapAnswer(request.body),
  )

  app.post(
    '/v1/electrics/enclosure',
    {
      schema: {
        operationId: 'checkEnclosure',
        ...SEARCH,
        summary: 'Temperature of an enclosure',
        description:
          'Temperature of a box on the dashboard, in the engine compartment or in measured surroundings, compared with the glass transition of its material and the rating of the parts inside.',
        tags,
        body: ref(EnclosureRequest),
        response: { 200: ref(EnclosureAnswer), ...calculationProblems(), ...problems(503) },
      },
    },
    ({ body }, reply) =>
      enclosureIsHeavy(body) ? inThread(reply, options, 'enclosure', body) : enclosureAnswer(body),
  )
}
