import { Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { assumptions } from './assumptions.js'
import { RingLengthIn, SmallLengthIn } from './electrics/quantities.js'
import { Conformity, probability } from './electrics/verdicts.js'
import { measureIn, measureOut } from './measure-shapes.js'
import { Length, Ratio, RotationalSpeed, SetSpeedIn, Speed } from './measures.js'
import { closed, listOf, named, ref, shape } from './named-shapes.js'
import { choice, count, plain, plainOut } from './plain-values.js'
import { pulsesPerTurn } from './pulse-counts.js'
import { lineText } from './texts.js'

const ShaftSpeedIn = measureIn('ShaftSpeedIn', 'rotational-speed', {
  min: 1e-3,
  max: 1000,
  description: 'Highest rotational speed of a shaft.',
  uncertainty: false,
})
const DensityIn = measureIn('DensityIn', 'density', {
  min: 10,
  max: 25_000,
  description: 'A density.',
})
const StrengthIn = measureIn('StrengthIn', 'stress', {
  min: 1e4,
  max: 1e10,
  description: 'Stress that a material bears.',
})
const RingMassIn = measureIn('RingMassIn', 'mass', { min: 1e-4, max: 100, description: 'Mass of a ring.' })

const Force = measureOut('Force', 'force', 'A force.')
const Stress = measureOut('Stress', 'stress', 'A stress.')
const Mass = measureOut('Mass', 'mass', 'A mass.')
const Unbalance = measureOut('Unbalance', 'unbalance', 'Mass times the offset of its center.')

const RingJoint = shape('RingJoint', 'Joints of a ring that is cut so that it goes round a shaft.', {
  count: count({ minimum: 1, maximum: 2, description: '1: cut once and opened; 2: in halves.' }),
  removed: ref(
    SmallLengthIn,
    'Width that each cut took out of the circumference; for a ring made in parts the gap that its teeth are designed for.',
    'joint: width removed',
  ),
  gap: Type.Optional(
    ref(
      SmallLengthIn,
      'Gap of each joint on the shaft, measured or planned; left out: where the ring grips.',
      'joint: gap',
    ),
  ),
  allowedPitchErrorPercent: Type.Optional(
    plain({
      minimum: 0.01,
      maximum: 50,
      description: 'Allowed error of the tooth gap at a joint [% of the pitch]; left out: 2.',
    }),
  ),
  screws: Type.Optional(
    count({ minimum: 1, maximum: 100, description: 'Screws of each joint; left out: force of all only.' }),
  ),
})

const RingMaterial = named(
  'RingMaterial',
  Type.Union(
    [
      Type.Object(
        {
          kind: choice(['steel', 'aluminum', 'stainless-steel', 'printed-plastic'], {
            description: 'Material of the ring.',
          }),
        },
        { ...closed, title: 'a built-in material' },
      ),
      Type.Object(
        {
          name: lineText(60, 'The material.', { examples: ['free-cutting steel'] }),
          density: ref(DensityIn, 'Its density.', 'ring material: density'),
          strength: ref(
            StrengthIn,
            'Stress that it bears: yield strength, or tensile strength of a brittle material.',
            'ring material: strength',
          ),
        },
        { ...closed, title: 'a material of your own' },
      ),
    ],
    { description: 'Give kind, or name with density and strength.' },
  ),
)

const RingSpinIn = shape('RingSpinIn', 'What stress and unbalance of a ring are computed from.', {
  shaftSpeed: ref(ShaftSpeedIn, 'Highest rotational speed of the shaft.'),
  width: ref(RingLengthIn, 'Width of the ring along the axis.', 'ring: width'),
  material: ref(RingMaterial, 'Material of the ring.'),
  mass: Type.Optional(
    ref(
      RingMassIn,
      'Mass of the ring with its screws; left out: from the dimensions, teeth counted as full.',
      'ring: mass',
    ),
  ),
  safetyFactor: Type.Optional(
    plain({ minimum: 1, maximum: 100, description: 'Strength over hoop stress to ask for; left out: 4.' }),
  ),
})

export const RingMountingRequest = named(
  'RingMountingRequest',
  Type.Object(
    {
      bore: ref(
        RingLengthIn,
        'Diameter of the bore of the ring; of a cut ring before the cut.',
        'ring: bore',
      ),
      shaft: ref(RingLengthIn, 'Diameter of the spigot or shaft.', 'shaft: diameter'),
      outsideDiameter: ref(
        RingLengthIn,
        'Diameter over the teeth; of a cut ring before the cut.',
        'ring: outside diameter',
      ),
      pulsesPerTurn: pulsesPerTurn(),
      joint: Type.Optional(ref(RingJoint, 'Joints of a cut ring; left out: a whole ring that slides on.')),
      spin: Type.Optional(ref(RingSpinIn, 'For stress and unbalance; left out: not computed.')),
      speed: Type.Optional(
        ref(SetSpeedIn, 'Speed of the car for the noise of the readings; left out: not computed.'),
      ),
    },
    {
      ...closed,
      description: 'A pulse ring and the spigot or shaft that it sits on.',
      examples: [
        {
          bore: { mm: 52.2, plusMinus: 0.05 },
          shaft: { mm: 52, plusMinus: 0.02 },
          outsideDiameter: { mm: 96 },
          pulsesPerTurn: 24,
          speed: { kmh: 80 },
        },
        {
          bore: { mm: 61, plusMinus: 0.05 },
          shaft: { mm: 60.8, plusMinus: 0.1 },
          outsideDiameter: { mm: 110, plusMinus: 0.1 },
          pulsesPerTurn: 16,
          joint: { count: 2, removed: { mm: 1.2, plusMinus: 0.1 }, screws: 2 },
          spin: {
            shaftSpeed: { rpm: 5500 },
            width: { mm: 12, plusMinus: 0.1 },
            material: { kind: 'aluminum' },
          },
        },
        {
          bore: { in: 1.25, plusMinus: 0.004 },
          shaft: { in: 1.25, plusMinus: 0.002 },
          outsideDiameter: { in: 3 },
          pulsesPerTurn: 12,
          joint: { count: 1, removed: { in: 0.04 }, gap: { in: 0.06, plusMinus: 0.01 } },
          spin: {
            shaftSpeed: { rpm: 4000 },
            width: { in: 0.4 },
            material: {
              name: 'cast nylon',
              density: { gPerCm3: 1.15 },
              strength: { mpa: 70, plusMinus: 10 },
            },
            mass: { g: 45, plusMinus: 3 },
            safetyFactor: 6,
          },
        },
      ],
    },
  ),
)

export const RingMountingAnswer = calculationAnswer('RingMountingAnswer', 'A pulse ring on its shaft.', {
  clearance: ref(
    Length,
    'Bore less shaft, on the diameter, with the joints at their gap; negative: interference.',
  ),
  eccentricity: ref(
    Length,
    'Expected offset of the center: the ring sits anywhere within its clearance with the same probability.',
  ),
  maxEccentricity: ref(Length, 'Half of the largest clearance, its uncertainty included.'),
  runOut: ref(Length, 'Total reading of a dial gauge over one turn: twice the eccentricity.'),
  maxRunOut: ref(Length, 'Twice the largest eccentricity.'),
  checks: Type.Array(
    Type.Object(
      {
        kind: choice(['goes-on', 'grips', 'joint-pitch', 'hoop-stress'], {
          description: 'What is checked.',
        }),
        text: Type.String({ description: 'What holds if it conforms.' }),
        probability,
        result: Conformity,
      },
      closed,
    ),
    {
      maxItems: 4,
      description: 'Whether the ring goes on or grips, keeps its pitch, and withstands rotation.',
    },
  ),
  ripple: Type.Object(
    {
      firstHarmonicPercent: ref(Ratio, 'Amplitude of the once-per-turn wave [% of the mean period].'),
      jointPercent: Type.Optional(
        ref(Ratio, 'Error of the period at a joint [% of the mean period]; absent for a whole ring.'),
      ),
      rmsPercent: plainOut('Expected ripple of all periods over a turn, rms [% of the mean period].'),
    },
    { ...closed, description: 'What repeats every turn in the periods of the pulses.' },
  ),
  ring: Type.Object(
    {
      pulsesPerTurn: pulsesPerTurn(),
      eccentricity: plainOut('Expected offset of the center over the pitch radius.'),
      errors: Type.Optional(
        Type.Array(plainOut('Error of a gap, as a share of the pitch.'), {
          maxItems: 1000,
          description: 'Of a ring with one joint: the gap at the joint first, then the others.',
        }),
      ),
      joint: Type.Optional(
        plainOut('Of a ring in halves: extra width of the gaps at its joints, as a share of the pitch.'),
      ),
    },
    { ...closed, description: 'The expected ring, as POST /v1/signals/simulation takes it.' },
  ),
  budget: listOf(
    BudgetLine,
    100,
    'Shares of the uncertainty of eccentricity, for a cut ring of joint.pitchErrorPercent; largest first.',
  ),
  assumptions,
  joint: Type.Optional(
    Type.Object(
      {
        gap: ref(Length, 'Gap of each joint.'),
        gapToGrip: ref(Length, 'Gap at which the ring begins to grip the shaft; negative: it cannot.'),
        minGap: ref(Length, 'Smallest gap that keeps the pitch within the allowed error.'),
        maxGap: ref(Length, 'Largest gap that does.'),
        pitchErrorPercent: ref(Ratio, 'Extra width of the tooth gap at a joint [% of the mean pitch].'),
      },
      { ...closed, description: 'Joints of a cut ring; absent for a whole one.' },
    ),
  ),
  noise: Type.Optional(
    ref(
      Speed,
      'Ripple as noise of a speed that is read once a pulse, rms, for noise of POST /v1/signals/filter-design; absent without speed.',
    ),
  ),
  spin: Type.Optional(
    Type.Object(
      {
        material: Type.String({ description: 'The material.' }),
        rimSpeed: ref(Speed, 'Speed of the outside diameter.'),
        hoopStress: ref(Stress, 'Hoop stress of a plain ring: density times the square of rimSpeed.'),
        strength: ref(Stress, 'Stress that the material bears.'),
        limitSpeed: ref(
          RotationalSpeed,
          'Rotational speed at which the hoop stress reaches the strength; with a tensile strength it bursts there.',
        ),
        hoopForce: ref(Force, 'Tension around the circumference; every joint holds all of it.'),
        screwForce: Type.Optional(
          ref(Force, 'Hoop force over the screws of a joint, shared evenly; absent without screws.'),
        ),
        mass: ref(Mass, 'Mass of the ring.'),
        maxUnbalance: ref(Unbalance, 'Mass times the largest eccentricity.'),
        maxUnbalanceForce: ref(Force, 'Force of that unbalance at the highest rotational speed.'),
      },
      { ...closed, description: 'Stress and unbalance; absent without spin.' },
    ),
  ),
})
