import { type Static, Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { measureIn } from './measure-shapes.js'
import { Distance, DistanceIn, Length, PerDistance, Ratio, Time } from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { count, plain, plainOut } from './plain-values.js'
import { form } from './texts.js'

/** Most points of one track. */
export const MAX_TRACK_POINTS = 250_000

/** Largest upload of a track [bytes]. */
export const TRACK_BODY_LIMIT = 16 * 1024 * 1024

export const AccuracyIn = measureIn('AccuracyIn', 'distance', {
  min: 0.001,
  max: 1000,
  description:
    'How far a recorded position lies from the true one, in plan: the radius that holds 95 % of positions.',
})

const degrees = (limit: number, description: string) =>
  Type.Number({ minimum: -limit, maximum: limit, description, 'x-unit': 'deg' })

const TrackPoint = shape('TrackPoint', 'A recorded position.', {
  lat: degrees(90, 'Latitude, WGS 84, north positive [degrees].'),
  lon: degrees(180, 'Longitude, WGS 84, east positive [degrees].'),
  time: Type.Optional(
    Type.String({
      maxLength: 40,
      pattern: form(
        '^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\\.[0-9]{1,9})?Z$',
        'a moment in UTC, as 2026-05-01T12:00:00Z',
      ),
      description: 'Moment, universal time.',
      examples: ['2026-05-01T12:00:00Z'],
    }),
  ),
  afterBreak: Type.Optional(
    Type.Boolean({
      description: 'The recording broke off before this point: the way to it is not counted.',
    }),
  ),
})

const pulses = count({ minimum: 1, maximum: 1e12, description: 'Pulses counted over the track.' })
const turns = plain({ minimum: 0.1, maximum: 1e9, description: 'Turns counted over the track.' })
const resolution = plain({
  minimum: 0.001,
  maximum: 1000,
  description: 'Smallest part of a turn that was read [turns]; 1 when left out.',
})

export const Counted = named(
  'Counted',
  Type.Union(
    [
      Type.Object({ pulses }, { additionalProperties: false, title: 'pulses' }),
      Type.Object(
        { turns, resolution: Type.Optional(resolution) },
        { additionalProperties: false, title: 'turns of a wheel, shaft or cable' },
      ),
      Type.Object(
        { indicated: ref(DistanceIn, 'Distance by the odometer of the car.', 'odometer distance') },
        { additionalProperties: false, title: 'distance by the odometer of the car' },
      ),
    ],
    {
      description: 'What was counted from the first point to the last: give one of pulses, turns, indicated.',
    },
  ),
)

export const TrackRequest = named(
  'TrackRequest',
  Type.Object(
    {
      points: Type.Array(ref(TrackPoint), {
        minItems: 2,
        maxItems: MAX_TRACK_POINTS,
        description: 'Recorded positions in order of travel.',
      }),
      counted: Type.Optional(
        ref(Counted, 'What was counted over the track; left out: only its length is computed.'),
      ),
      accuracy: Type.Optional(
        ref(
          AccuracyIn,
          'Radius around the true position that holds 95 % of the recorded ones; left out: 8 m.',
          'accuracy of the positions',
        ),
      ),
    },
    {
      additionalProperties: false,
      examples: [
        {
          points: Array.from({ length: 13 }, (_, i) => ({
            lat: Number((48 + 0.0009 * i).toFixed(4)),
            lon: Number((11 + 0.00001 * ((i * 7) % 3)).toFixed(5)),
            time: `2026-05-01T12:00:${String(5 * i)
              .padStart(2, '0')
              .replace('60', '59')}Z`,
          })),
          counted: { pulses: 5310 },
          accuracy: { m: 5 },
        },
        {
          points: [
            { lat: 52.1, lon: -1.5 },
            { lat: 52.13, lon: -1.5 },
            { lat: 52.131, lon: -1.5, afterBreak: true },
            { lat: 52.16, lon: -1.501 },
          ],
          counted: { indicated: { mi: 4.2, plusMinus: 0.05 } },
        },
      ],
    },
  ),
)

/** What goes beside a GPX document, which has no place for it. */
export const TrackQuery = Type.Object(
  {
    pulses: Type.Optional(pulses),
    turns: Type.Optional(turns),
    resolution: Type.Optional(resolution),
    indicatedKm: Type.Optional(
      Type.Number({
        minimum: 1e-3,
        maximum: 5e6,
        description: 'Distance by the odometer of the car [kilometer].',
        'x-unit': 'km',
      }),
    ),
    indicatedMi: Type.Optional(
      Type.Number({
        minimum: 1e-3,
        maximum: 5e6,
        description: 'Distance by the odometer of the car [mile].',
        'x-unit': '[mi_i]',
      }),
    ),
    indicatedPlusMinus: Type.Optional(
      Type.Number({
        minimum: 0,
        maximum: 5e6,
        description: 'Uncertainty of the indicated distance, 95 %, in its unit.',
        'x-unit': '1',
      }),
    ),
    accuracyM: Type.Optional(
      Type.Number({
        minimum: 0.001,
        maximum: 1000,
        description: 'How far a recorded position lies from the true one, 95 % [meter].',
        'x-unit': 'm',
      }),
    ),
  },
  { additionalProperties: false },
)

const index = (description: string) => count({ minimum: 0, maximum: MAX_TRACK_POINTS, description })

export const TrackAnswer = calculationAnswer(
  'TrackAnswer',
  'Length of a road driven, from recorded positions.',
  {
    length: ref(Distance, 'Length of the road driven, corrected for noise and bends.'),
    recorded: Type.Object(
      {
        length: ref(Distance, 'Length as recorded: the plain sum of the steps.'),
        points: index('Points read.'),
        noise: Type.Optional(
          ref(
            Length,
            'Standard deviation of a position on each axis, estimated from the track; absent where too few points tell.',
          ),
        ),
        errorPercent: plainOut('By how much the plain sum of the steps lies from length [%].'),
      },
      {
        additionalProperties: false,
        description: 'The positions as recorded; noise is the standard deviation of a position on each axis.',
      },
    ),
    standstill: Type.Object(
      {
        stops: index('Number of stops.'),
        duration: ref(Time, 'Time that the car stood still, all stops together.'),
      },
      {
        additionalProperties: false,
        description:
          'Where the car stood still, by the times of the points: each stop counts as one place. Empty where points have no time.',
      },
    ),
    thinning: Type.Object(
      {
        minSpacing: ref(
          Length,
          'Least distance between two points used, apart from bends; 0: every point is used.',
        ),
        pointsUsed: index('Points used.'),
        length: ref(Distance, 'Length over the points used, not corrected.'),
        noiseAdded: ref(Length, 'Length that position noise adds; subtracted.'),
        bendsCut: ref(Length, 'Length that the chords cut off in bends; added.'),
      },
      {
        additionalProperties: false,
        description:
          'Points at least so far apart were used, bends kept (0: every point); length = thinning.length - noiseAdded + bendsCut.',
      },
    ),
    residualPlusMinusPercent: plainOut(
      'Uncertainty that noise and bends leave in length after correction, 95 % [%].',
    ),
    parts: Type.Array(
      Type.Object(
        {
          points: index('Points of the part.'),
          length: ref(Distance, 'Length of the part, over the points used, not corrected.'),
        },
        { additionalProperties: false, description: 'An unbroken part, by the points used, not corrected.' },
      ),
      { maxItems: 1000, description: 'Unbroken parts, the first 1000 of them.' },
    ),
    gaps: Type.Array(
      Type.Object(
        {
          afterPart: index('Part that ends there, from 0.'),
          distance: ref(
            Distance,
            'Straight distance from the last point before the gap to the first one after it.',
          ),
          duration: Type.Optional(ref(Time, 'Time that the gap lasts; absent where points have no time.')),
          moved: Type.Boolean({
            description: 'Whether the car moved meanwhile, as far as the positions tell.',
          }),
        },
        { additionalProperties: false, description: 'A break of the recording. It is not bridged.' },
      ),
      { maxItems: 1000, description: 'Breaks of the recording, the first 1000 of them.' },
    ),
    discarded: Type.Array(index('Point, from 0.'), {
      maxItems: 1000,
      description: 'Points discarded because no car gets there and back in the time; the first 1000 of them.',
    }),
    budget: listOf(
      BudgetLine,
      10,
      'What the uncertainty comes from, largest first: of the result of counted where there is one, else of length.',
    ),
    pulses: Type.Optional(ref(PerDistance, 'Pulses per distance; only when pulses were counted.')),
    turns: Type.Optional(ref(PerDistance, 'Turns per distance; only when turns were counted.')),
    odometerPerTrue: Type.Optional(
      ref(
        Ratio,
        'Distance by the odometer over true distance: above 1 it over-reads. Only when an indicated distance was given.',
      ),
    ),
    odometerErrorPercent: Type.Optional(plainOut('By how much the odometer over-reads [%].')),
    odometerErrorPlusMinusPercent: Type.Optional(
      plainOut('Uncertainty of odometerErrorPercent, 95 % [percentage points].'),
    ),
  },
)

export type CountedShape = Static<typeof Counted>
export type TrackAnswerShape = Static<typeof TrackAnswer>
export type TrackBody = Static<typeof TrackRequest>
export type TrackQueryShape = Static<typeof TrackQuery>

/** Two legs to the north: the way there is 0.02 degrees of latitude. */
export const GPX_EXAMPLE = `<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="logger">
  <trk><trkseg>
    <trkpt lat="52.00" lon="5.00"/><trkpt lat="52.01" lon="5.00"/><trkpt lat="52.02" lon="5.00"/>
  </trkseg></trk>
</gpx>`
