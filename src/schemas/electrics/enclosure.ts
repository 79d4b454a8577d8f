import { Type } from '@sinclair/typebox'
import { calculationAnswer } from '../answers.js'
import { assumptions } from '../assumptions.js'
import { Temperature, TemperatureDifference } from '../measures.js'
import { closed, named, ref } from '../named-shapes.js'
import { choice } from '../plain-values.js'
import { lineText } from '../texts.js'
import { AmbientIn, HeatTransferIn, PowerIn, SurfaceIn, TemperatureMarginIn } from './quantities.js'
import { TemperatureDifferenceRange, TemperatureRange } from './temperature-ranges.js'
import { budget, Conformity, probability } from './verdicts.js'

export const EnclosureRequest = named(
  'EnclosureRequest',
  Type.Object(
    {
      place: Type.Optional(
        choice(['dashboard-in-sun', 'dashboard-on-hot-day', 'engine-compartment'], {
          description:
            'Where the box sits; give this or ambient. dashboard-in-sun: mean of a study; dashboard-on-hot-day: from 60 to 90 °C; engine-compartment: from 80 to 120 °C.',
        }),
      ),
      ambient: Type.Optional(
        ref(
          AmbientIn,
          'Temperature around the box; give this or place. Left out: that of place.',
          'surroundings: temperature',
        ),
      ),
      power: Type.Optional(
        ref(
          PowerIn,
          'Heat given off by the electronics inside; needs surface. Left out: 0 W.',
          'power inside',
        ),
      ),
      surface: Type.Optional(ref(SurfaceIn, 'Outside surface of the box.', 'surface')),
      heatTransfer: Type.Optional(
        ref(
          HeatTransferIn,
          'Heat transfer coefficient at the surface; left out: still air, 10 W/(m2 K), from 5 to 15.',
          'heat transfer',
        ),
      ),
      margin: Type.Optional(
        ref(TemperatureMarginIn, 'Distance to keep below the glass transition; left out: 10 K.', 'margin'),
      ),
      materials: Type.Optional(
        Type.Array(
          Type.Union(
            [
              Type.Object(
                {
                  kind: choice(
                    [
                      ...(['pla', 'petg', 'abs', 'pc', 'asa'] as const),
                      ...(['aluminum-5052-sheet', 'aluminum-6061-sheet', 'aluminum-die-cast'] as const),
                      ...(['zinc-die-cast', 'steel-sheet', 'stainless-304-sheet'] as const),
                    ],
                    { description: 'Material of the box.' },
                  ),
                },
                { ...closed, title: 'a built-in material' },
              ),
              Type.Object(
                {
                  name: lineText(60, 'The material.', { examples: ['glass-filled nylon'] }),
                  glassTransition: ref(
                    AmbientIn,
                    'Glass transition of the material.',
                    'material {n}: glass transition',
                  ),
                },
                { ...closed, title: 'a material of your own' },
              ),
            ],
            { description: 'Give kind, or name with glassTransition.' },
          ),
          { minItems: 1, maxItems: 20, description: 'Left out: every built-in material.' },
        ),
      ),
      partsRatedTo: Type.Optional(
        ref(
          AmbientIn,
          'Temperature that the parts inside are rated to; left out: not checked.',
          'parts: rating',
        ),
      ),
    },
    {
      ...closed,
      dependentRequired: { surface: ['power'], heatTransfer: ['power'], power: ['surface'] },
      oneOf: [{ required: ['ambient'] }, { required: ['place'] }],
      description: 'A closed box in a car: give place or ambient; power needs surface.',
      examples: [
        { place: 'dashboard-in-sun' },
        {
          place: 'dashboard-on-hot-day',
          materials: [{ kind: 'petg' }, { kind: 'asa' }, { kind: 'aluminum-5052-sheet' }],
        },
        {
          ambient: { c: 55, plusMinus: 5 },
          power: { w: 1.2, plusMinus: 0.2 },
          surface: { cm2: 216 },
          materials: [
            { kind: 'petg' },
            { name: 'glass-filled nylon', glassTransition: { c: 70, plusMinus: 10 } },
          ],
          partsRatedTo: { c: 85 },
        },
      ],
    },
  ),
)

export const EnclosureAnswer = calculationAnswer(
  'EnclosureAnswer',
  'Temperature of a box and its material.',
  {
    ambient: ref(Temperature, 'Temperature around the box.'),
    rise: ref(TemperatureDifference, 'How much warmer the box gets than its surroundings.'),
    riseRange: ref(TemperatureDifferenceRange, 'Range that holds the rise with 95 %.'),
    boxTemperature: ref(Temperature, 'Temperature that the box settles at.'),
    boxTemperatureRange: ref(TemperatureRange, 'Range that holds the temperature of the box with 95 %.'),
    materials: Type.Array(
      Type.Object(
        {
          name: Type.String({ description: 'The material.' }),
          glassTransition: Type.Optional(
            ref(Temperature, 'Glass transition of the material; absent for a metal.'),
          ),
          serviceTemperature: Type.Optional(
            ref(
              Temperature,
              'Highest temperature for years of use, from memory; absent for a material of your own.',
            ),
          ),
          basis: choice(['glass-transition', 'service-temperature'], {
            description: 'What usableTo follows from: a plastic softens, a metal loses strength or its coat.',
          }),
          usableTo: ref(
            Temperature,
            'Highest temperature to use it at: glass transition less margin of the request, or service temperature of a metal.',
          ),
          margin: ref(
            TemperatureDifference,
            'Distance from the box temperature to usableTo; negative: too hot.',
          ),
          marginRange: ref(TemperatureDifferenceRange, 'Range that holds the margin with 95 %.'),
          probability,
          result: Conformity,
        },
        closed,
      ),
      { maxItems: 20, description: 'Whether each material withstands the temperature of the box.' },
    ),
    budget,
    assumptions,
    parts: Type.Optional(
      Type.Object(
        {
          ratedTo: ref(Temperature, 'Temperature that the parts are rated to, as given.'),
          probability,
          result: Conformity,
        },
        { ...closed, description: 'Whether the parts inside withstand it.' },
      ),
    ),
  },
)
