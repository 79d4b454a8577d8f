import { type Static, Type } from '@sinclair/typebox'
import { measureIn } from './measure-shapes.js'
import { TireLengthIn } from './measures.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { shared } from './parts.js'
import { choice } from './plain-values.js'
import { Next, PAGE_QUERY } from './stored.js'
import { lineText } from './texts.js'
import { SizeText } from './tires.js'

export const SectionWidthIn = measureIn('SectionWidthIn', 'length', {
  min: 0.03,
  max: 0.6,
  description: 'Section width of a tire.',
})

const rowFields = {
  size: SizeText,
  overallDiameter: ref(
    TireLengthIn,
    'Overall diameter of the tire, new, inflated and unloaded.',
    'tire: recorded diameter',
  ),
  sectionWidth: Type.Optional(
    ref(SectionWidthIn, 'Section width of the tire; left out: not known.', 'tire: section width'),
  ),
  construction: choice(['radial', 'diagonal', 'bias-belted'], {
    description: 'Construction of the carcass; must be one that the size allows.',
  }),
  source: lineText(300, 'Where the figures come from.', {
    examples: ['Catalog of a wholesaler, 1974, page 12'],
  }),
}

/** A row of the table of tire sizes that users keep. */
export const TireSizeInput = named(
  'TireSizeInput',
  Type.Object(rowFields, {
    additionalProperties: false,
    description: 'Overall diameter of a tire size, used by every computation after the built-in table.',
    examples: [
      {
        size: 'G78-15',
        overallDiameter: { mm: 717, plusMinus: 3 },
        sectionWidth: { mm: 208 },
        construction: 'diagonal',
        source: 'Measured on four new tires, club stores',
      },
    ],
  }),
)

export const SavedTireSize = shape('SavedTireSize', 'A stored tire size, as given.', {
  ...shared,
  ...rowFields,
})

export const SavedTireSizeList = shape('SavedTireSizeList', 'A page of tire sizes.', {
  tireSizes: listOf(SavedTireSize, 200, 'In the order of recording.'),
  next: Next,
})

export const TireSizeListQuery = Type.Object(
  {
    ...PAGE_QUERY,
    size: Type.Optional({ ...SizeText, description: 'Only this size, however it is written.' }),
  },
  { additionalProperties: false },
)

export type TireSizeShape = Static<typeof TireSizeInput>
