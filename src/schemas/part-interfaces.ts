import { type Static, Type } from '@sinclair/typebox'
import { measureIn } from './measure-shapes.js'
import { named, ref } from './named-shapes.js'
import { choice, count } from './plain-values.js'
import { lineText } from './texts.js'

export const PartLengthIn = measureIn('PartLengthIn', 'length', {
  min: 0.0001,
  max: 2,
  description: 'A dimension of a part.',
})

/** Largest deviation of a dimension that a search allows, where the caller gives none [mm]. */
export const DEFAULT_TOLERANCE_MM = 0.5

export const toleranceField = (what: string) =>
  Type.Optional(
    Type.Number({
      minimum: 0,
      maximum: 10,
      default: DEFAULT_TOLERANCE_MM,
      'x-unit': 'mm',
      description: `${what} [millimeter].`,
    }),
  )

export const Bolts = count({
  minimum: 2,
  maximum: 24,
  description: 'Number of holes or studs, evenly spaced.',
})

const MateGender = choice(['female', 'male'], {
  description: 'male goes into female: a plug, stud, spigot or shaft into a socket, hole, recess or bore.',
})

/** Where a part meets another. */
export const Interface = named(
  'Interface',
  Type.Union(
    [
      Type.Object(
        {
          kind: choice(['bolt-circle'], { description: 'Holes or studs on a circle.' }),
          bolts: Bolts,
          circleDiameter: ref(
            PartLengthIn,
            'Diameter of the circle through the centers of the holes or studs.',
            'circle diameter',
          ),
          boltHole: Type.Optional(
            ref(PartLengthIn, 'Diameter of a hole, or of a stud; left out: not compared.', 'bolt hole'),
          ),
          bore: Type.Optional(
            ref(
              PartLengthIn,
              'Diameter of the central hole, or of the spigot; left out: not compared.',
              'bore',
            ),
          ),
          gender: Type.Optional(MateGender),
        },
        { additionalProperties: false, title: 'bolt circle; bore is the hole or spigot in its middle' },
      ),
      Type.Object(
        {
          kind: choice(['shaft'], { description: 'A driving end, or the socket that takes one.' }),
          form: choice(['square', 'blade', 'round', 'spline'], { description: 'Shape of its section.' }),
          size: ref(
            PartLengthIn,
            'Across the flats of a square, width of a blade, (major) diameter of a round end or spline.',
            'size',
          ),
          teeth: Type.Optional(
            count({ minimum: 3, maximum: 200, description: 'Teeth of a spline; no other form has them.' }),
          ),
          gender: MateGender,
        },
        {
          additionalProperties: false,
          title: 'shaft end; size is across the flats, the width of the blade, or the (major) diameter',
        },
      ),
      Type.Object(
        {
          kind: choice(['thread'], { description: 'A screw thread.' }),
          designation: lineText(
            40,
            'Diameter and pitch, M18x1.5, or diameter and threads per inch, 7/8-18; LH for a left-hand thread.',
            { examples: ['M18x1.5', '7/8-18', '5/8-18 UNF'] },
          ),
          gender: MateGender,
        },
        { additionalProperties: false, title: 'thread' },
      ),
      Type.Object(
        {
          kind: choice(['bore'], { description: 'A plain round hole.' }),
          diameter: ref(PartLengthIn, 'Diameter of the hole.', 'diameter'),
        },
        { additionalProperties: false, title: 'bore' },
      ),
      Type.Object(
        {
          kind: choice(['flange'], { description: 'A plain round flange.' }),
          diameter: ref(PartLengthIn, 'Outside diameter of the flange.', 'diameter'),
          spigotDiameter: Type.Optional(
            ref(
              PartLengthIn,
              'Diameter of the spigot or recess that centers it; left out: not compared.',
              'spigot diameter',
            ),
          ),
          thickness: Type.Optional(
            ref(PartLengthIn, 'Thickness of the flange; left out: not compared.', 'thickness'),
          ),
          gender: Type.Optional(MateGender),
        },
        { additionalProperties: false, title: 'flange, centered by its spigot (male) or recess (female)' },
      ),
    ],
    { description: 'Where a part meets another.' },
  ),
)
export type InterfaceShape = Static<typeof Interface>
