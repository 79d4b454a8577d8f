import { type Static, Type } from '@sinclair/typebox'
import { calculationAnswer, Series } from './answers.js'
import { Filter } from './filters.js'
import { measureIn } from './measure-shapes.js'
import { SetPerDistanceIn, SetTimeIn, Speed, Time } from './measures.js'
import { listOf, named, ref } from './named-shapes.js'
import { choice, count, plain } from './plain-values.js'
import { eventCount, pulsesPerTurn } from './pulse-counts.js'

const ElapsedIn = measureIn('ElapsedIn', 'time', {
  min: 0,
  max: 1e6,
  description: 'Time since the start.',
  uncertainty: false,
})

const TravelSpeedIn = measureIn('TravelSpeedIn', 'speed', {
  min: 0,
  max: 280,
  description: 'A speed; 0 at standstill.',
  uncertainty: false,
})

const share = (description: string, minimum = -0.9) => plain({ minimum, maximum: 0.9, description })

export const SimulationRequest = named(
  'SimulationRequest',
  Type.Object(
    {
      pulses: ref(SetPerDistanceIn, 'Pulses per distance.'),
      ring: Type.Optional(
        Type.Object(
          {
            pulsesPerTurn: pulsesPerTurn(),
            errors: Type.Optional(
              Type.Array(share('Error of one gap: (gap - pitch) / pitch; 0.0125 is 1.25 %.'), {
                minItems: 1,
                maxItems: 1000,
                description:
                  'Error of each gap in the order in which they pass, as a share of the pitch; their mean is subtracted.',
              }),
            ),
            rms: Type.Optional(
              plain({
                minimum: 0,
                maximum: 0.5,
                description: 'Spread of random gap errors, as a share of the pitch.',
              }),
            ),
            eccentricity: Type.Optional(share('Offset of the center over the pitch radius.', 0)),
            joint: Type.Optional(
              share(
                'Ring cut in halves: extra width of the gaps at its two joints, as a share of the pitch.',
              ),
            ),
          },
          {
            additionalProperties: false,
            description:
              'The pulse ring; left out: one pulse per turn, without error. The errors given add up.',
          },
        ),
      ),
      profile: Type.Array(
        Type.Object(
          {
            t: ref(ElapsedIn, 'Time since the start, not before that of the previous point.'),
            speed: ref(TravelSpeedIn, 'True speed at that time; 0 at standstill.'),
          },
          { additionalProperties: false },
        ),
        {
          minItems: 2,
          maxItems: 1000,
          description: 'True speed over time, linear between points; two points at the same time are a step.',
        },
      ),
      missed: Type.Optional(
        plain({ minimum: 0, maximum: 0.5, description: 'Probability that a pulse is missed.' }),
      ),
      extra: Type.Optional(
        plain({ minimum: 0, maximum: 0.5, description: 'Probability of an extra pulse before a pulse.' }),
      ),
      edgeJitter: Type.Optional(ref(SetTimeIn, 'Standard deviation of the time of an edge; left out: none.')),
      timerTick: Type.Optional(
        ref(SetTimeIn, 'Time of one timer tick; left out: the timer has no quantization.'),
      ),
      timerBits: Type.Optional(
        count({
          minimum: 8,
          maximum: 64,
          description: 'Width of the counter [bits]; left out: it never wraps.',
        }),
      ),
      filter: Type.Optional(ref(Filter, 'Filter of the readings; left out: none.')),
      filterOn: Type.Optional(
        choice(['speed', 'period'], {
          default: 'speed',
          description:
            'Filter the speed of each period, or the period before it is inverted (no bias from noise, but a slower response to falling than to rising speed).',
        }),
      ),
      zeroTimeout: Type.Optional(
        ref(SetTimeIn, 'Time without a pulse after which zero is shown; left out: never.'),
      ),
      betweenPulses: Type.Optional(
        choice(['hold', 'bound'], {
          default: 'hold',
          description:
            'What the display shows while no pulse arrives, until zeroTimeout. hold: the last value; bound: the last value, or the highest speed that the time since the last pulse allows if that is lower.',
        }),
      ),
      display: Type.Optional(
        Type.Object(
          { every: ref(SetTimeIn, 'Time between two updates of the display.') },
          {
            additionalProperties: false,
            description: 'Update interval of the display; left out: every 100 ms.',
          },
        ),
      ),
      seed: Type.Optional(
        count({
          minimum: 0,
          maximum: 4_294_967_295,
          default: 1,
          description: 'Seed of the random noise: the same seed gives the same noise.',
        }),
      ),
      seriesPoints: Type.Optional(
        count({
          minimum: 2,
          maximum: 2000,
          default: 500,
          description: 'Maximum number of points of each series.',
        }),
      ),
    },
    {
      additionalProperties: false,
      examples: [
        {
          pulses: { perKm: 4000 },
          ring: { pulsesPerTurn: 8, rms: 0.02, eccentricity: 0.01 },
          profile: [
            { t: { s: 0 }, speed: { kmh: 0 } },
            { t: { s: 10 }, speed: { kmh: 80 } },
            { t: { s: 30 }, speed: { kmh: 80 } },
            { t: { s: 36 }, speed: { kmh: 0 } },
            { t: { s: 40 }, speed: { kmh: 0 } },
          ],
          missed: 0.001,
          timerTick: { us: 4 },
          timerBits: 32,
          filter: { median: 3, factor: 0.25 },
          zeroTimeout: { ms: 450 },
          betweenPulses: 'bound',
          display: { every: { ms: 200 } },
          seed: 7,
          seriesPoints: 100,
        },
        {
          pulses: { perMile: 8000 },
          ring: { pulsesPerTurn: 4, errors: [0.03, -0.01, -0.04, 0.02] },
          profile: [
            { t: { s: 0 }, speed: { mph: 30 } },
            { t: { s: 20 }, speed: { mph: 30 } },
            { t: { s: 20 }, speed: { mph: 60 } },
            { t: { s: 40 }, speed: { mph: 60 } },
          ],
          filter: { movingAverage: 4 },
          filterOn: 'period',
          seriesPoints: 40,
        },
      ],
    },
  ),
)

export const SimulationAnswer = calculationAnswer(
  'SimulationAnswer',
  'Displayed speed compared with the true speed. A quantity that this drive does not determine is absent.',
  {
    pulses: eventCount('Pulses that reached the timer.'),
    missedPulses: eventCount('Pulses of the ring that were missed.'),
    extraPulses: eventCount('Pulses that the ring did not cause.'),
    displayUpdates: eventCount('Updates of the display.'),
    pulsesInOneTick: eventCount('Pulses in the same timer tick as the pulse before: no reading.'),
    rmsError: ref(Speed, 'Error of the displayed speed (shown less true), rms over the drive.'),
    peakError: ref(Speed, 'Largest error of the displayed speed, with its sign.'),
    peakErrorAt: ref(Time, 'Time of the largest error.'),
    lag: Type.Optional(ref(Time, 'Time by which the display lags on ramps of speed; absent without a ramp.')),
    settling95: Type.Optional(
      ref(
        Time,
        'Time from the end of the largest change of speed until 95 % of it is shown; absent without such a change, or when 95 % is not reached.',
      ),
    ),
    timeToZero: Type.Optional(
      ref(
        Time,
        'Longest time from standstill until zero is shown; absent without a standstill, or when zero is never shown.',
      ),
    ),
    steadySpread: Type.Optional(
      ref(
        Speed,
        'Spread of the displayed speed at constant speed once settled, rms about its mean; absent without such a stretch.',
      ),
    ),
    steadyBias: Type.Optional(
      ref(
        Speed,
        'Mean error of the displayed speed at constant speed once settled; absent without such a stretch.',
      ),
    ),
    series: listOf(
      Series,
      2,
      'True and displayed speed [km/h] over time [s]; when there are more updates than points, the extremes are kept.',
    ),
  },
)

export type SimulationAnswerShape = Static<typeof SimulationAnswer>
