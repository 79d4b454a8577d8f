import { Type } from '@sinclair/typebox'
import { calculationAnswer } from '../answers.js'
import { assumptions } from '../assumptions.js'
import {
  Area,
  Current,
  Length,
  Power,
  PowerPerLength,
  Ratio,
  Resistance,
  ResistancePerLength,
  Temperature,
  Voltage,
} from '../measures.js'
import { closed, listOf, named, ref } from '../named-shapes.js'
import { choice, count, plain, plainOut } from '../plain-values.js'
import {
  AmbientIn,
  CurrentIn,
  FuseRatingIn,
  HeatTransferIn,
  LeadLengthIn,
  SmallLengthIn,
  SmallResistanceIn,
  VoltageIn,
  WireAreaIn,
} from './quantities.js'
import { TemperatureRange } from './temperature-ranges.js'
import { budget, Conformity, probability } from './verdicts.js'

export const WireSize = named(
  'WireSize',
  Type.Union(
    [
      Type.Object(
        {
          awg: count({
            minimum: -3,
            maximum: 40,
            description: 'American gauge; 0 is 1/0, -1 is 2/0.',
          }),
        },
        { ...closed, title: 'by gauge' },
      ),
      Type.Object(
        { area: ref(WireAreaIn, 'Cross section of the copper.', 'wire: area') },
        { ...closed, title: 'by the area of the copper' },
      ),
    ],
    { description: 'Size of a wire: give exactly one of awg, area.' },
  ),
)

export const WireRequest = named(
  'WireRequest',
  Type.Object(
    {
      supply: ref(VoltageIn, 'Voltage at the source.', 'supply'),
      current: ref(CurrentIn, 'Steady current of the load.', 'current'),
      length: ref(LeadLengthIn, 'Length of the wire one way.', 'wire: length'),
      size: ref(WireSize, 'Size of the wire, by gauge or by cross section.'),
      returnPath: Type.Optional(
        choice(['wire', 'body'], {
          description:
            'The way back: a second wire of the same size and length, or the body. Left out: wire.',
        }),
      ),
      bodyResistance: Type.Optional(
        ref(
          SmallResistanceIn,
          'Resistance of the return through the body; only with returnPath body. Left out: 0.01 ohm, from 0 to 0.02.',
          'body: resistance of the return path',
        ),
      ),
      contactResistance: Type.Optional(
        ref(
          SmallResistanceIn,
          'Resistance of all contacts in the circuit; left out: 0.01 ohm, from 0 to 0.03.',
          'contacts: resistance',
        ),
      ),
      sourceResistance: Type.Optional(
        ref(
          SmallResistanceIn,
          'Internal resistance of the source, for the short-circuit current; left out: 0.02 ohm, from 0.005 to 0.05.',
          'source: internal resistance',
        ),
      ),
      ambient: Type.Optional(
        ref(
          AmbientIn,
          'Ambient temperature along the wire; left out: 40 °C, from 20 to 60.',
          'surroundings: temperature',
        ),
      ),
      insulation: Type.Optional(
        Type.Object(
          {
            thickness: Type.Optional(
              ref(
                SmallLengthIn,
                'Wall thickness of the insulation; left out: 0.5 mm, from 0.25 to 0.8.',
                'insulation: thickness',
              ),
            ),
            limit: Type.Optional(
              ref(
                AmbientIn,
                'Highest temperature of the insulation; left out: 85 °C, class A.',
                'insulation: limit',
              ),
            ),
          },
          { ...closed, description: 'Insulation: wall thickness, and its highest temperature.' },
        ),
      ),
      heatTransfer: Type.Optional(
        ref(
          HeatTransferIn,
          'Heat transfer coefficient at the surface; left out: still air, 10 W/(m2 K), from 5 to 15.',
          'heat transfer',
        ),
      ),
      allowedDropPercent: Type.Optional(
        plain({
          minimum: 0.1,
          maximum: 50,
          description: 'Drop that is allowed, of the supply [%]; left out: 3.',
        }),
      ),
      fuse: Type.Optional(ref(FuseRatingIn, 'Rating of the fuse to judge; left out: none is judged.')),
    },
    {
      ...closed,
      dependentSchemas: {
        bodyResistance: { required: ['returnPath'], properties: { returnPath: { enum: ['body'] } } },
      },
      description: 'A copper wire from source to load; length is one way.',
      examples: [
        {
          supply: { v: 12 },
          current: { a: 2, plusMinus: 0.1 },
          length: { m: 4 },
          size: { awg: 18 },
          fuse: { a: 5 },
        },
        {
          supply: { v: 6.3 },
          current: { a: 8 },
          length: { ft: 10 },
          size: { area: { mm2: 1.5 } },
          returnPath: 'body',
          ambient: { c: 50, plusMinus: 10 },
          insulation: { thickness: { mm: 0.6 }, limit: { c: 90 } },
        },
      ],
    },
  ),
)

const WireSizeOut = named(
  'WireSizeRow',
  Type.Object(
    {
      area: ref(Area, 'Cross section of the copper.'),
      suits: Type.Boolean({
        description:
          'Drop within what is allowed, insulation proven to hold, and a fuse that carries the load and protects it.',
      }),
      awg: Type.Optional(Type.Integer({ description: 'American gauge.', 'x-dimensionless': true })),
      dropPercent: Type.Optional(plainOut('Drop of the supply [%]; absent when the wire never settles.')),
      conductorTemperature: Type.Optional(
        ref(Temperature, 'Temperature of the conductor at this size; absent when it never settles.'),
      ),
    },
    { ...closed, description: 'A usual size at the same current, length and surroundings.' },
  ),
)

export const WireAnswer = calculationAnswer('WireAnswer', 'Drop, heating and fuse of a wire.', {
  diameter: ref(Length, 'Diameter of the conductor.'),
  area: ref(Area, 'Cross section of the copper.'),
  resistancePerLengthAt20: ref(ResistancePerLength, 'Resistance per length of one conductor at 20 °C.'),
  resistancePerLength: ref(
    ResistancePerLength,
    'Resistance per length of one conductor at its own temperature.',
  ),
  loopResistance: ref(Resistance, 'Resistance of the whole circuit: both ways and the contacts.'),
  drop: ref(Voltage, 'Voltage lost between source and load.'),
  dropPercent: ref(Ratio, 'Voltage lost, in percent of the supply.'),
  dropWithinAllowed: Conformity,
  loadVoltage: ref(Voltage, 'Voltage left at the load.'),
  heat: ref(Power, 'Heat in the wire, both ways.'),
  heatPerLength: ref(PowerPerLength, 'Heat per length of one conductor.'),
  conductorTemperature: ref(Temperature, 'Temperature that the conductor settles at.'),
  conductorTemperatureRange: ref(TemperatureRange, 'Range that holds the conductor temperature with 95 %.'),
  insulation: Type.Object(
    { limit: ref(Temperature, 'Highest temperature of the insulation.'), probability, result: Conformity },
    { ...closed, description: 'Whether the insulation withstands the temperature of the conductor.' },
  ),
  largestCurrent: ref(Current, 'Largest current at which the insulation stays within its limit.'),
  shortCircuitCurrent: ref(Current, 'Current when the far end is shorted.'),
  sizes: listOf(WireSizeOut, 20, 'Usual sizes, thinnest first, of the way of counting that was used.'),
  budget,
  assumptions,
  minFuse: Type.Optional(
    ref(
      Current,
      'Smallest standard fuse that carries the load at 75 % of its rating; absent when none is large enough.',
    ),
  ),
  maxFuse: Type.Optional(
    ref(Current, 'Largest standard fuse that protects the wire; absent when none is small enough.'),
  ),
  fuse: Type.Optional(
    Type.Object(
      {
        rating: ref(Current, 'Rating of the fuse, as given.'),
        carriesLoad: Type.Boolean({ description: 'Whether the load is at most 75 % of the rating.' }),
        protectsWire: Conformity,
        probability,
        opensOnShort: Type.Boolean({
          description:
            'Whether a short circuit at the far end draws twice the rating, which opens it within 5 s.',
        }),
      },
      { ...closed, description: 'The fuse of the request, checked.' },
    ),
  ),
})
