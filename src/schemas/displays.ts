import { Type } from '@sinclair/typebox'
import { calculationAnswer } from './answers.js'
import { assumptions } from './assumptions.js'
import { budget, Conformity, probability } from './electrics/verdicts.js'
import { measureIn, measureOut } from './measure-shapes.js'
import { Length, Ratio, ShareIn } from './measures.js'
import { closed, listOf, named, ref, shape } from './named-shapes.js'
import { choice, plain, plainOut } from './plain-values.js'
import { lineText } from './texts.js'

const LuminanceIn = measureIn('LuminanceIn', 'luminance', {
  min: 1e-4,
  max: 1e6,
  description: 'Luminance of a part of a display in the dark, without a filter.',
})
const SetLuminanceIn = measureIn('SetLuminanceIn', 'luminance', {
  min: 1e-3,
  max: 1e4,
  description: 'Limit of a luminance.',
  uncertainty: false,
})
const IlluminanceIn = measureIn('IlluminanceIn', 'illuminance', {
  min: 1e-4,
  max: 2e5,
  description: 'Illuminance on the display.',
})
const CharacterHeightIn = measureIn('CharacterHeightIn', 'length', {
  min: 1e-4,
  max: 1,
  description: 'Height of a character.',
})
const ViewingDistanceIn = measureIn('ViewingDistanceIn', 'span', {
  min: 0.05,
  max: 10,
  description: 'Distance from the eye.',
})
const SetVisualAngleIn = measureIn('SetVisualAngleIn', 'visualAngle', {
  min: 2.9e-4,
  max: 0.1,
  description: 'Limit of a visual angle.',
  uncertainty: false,
})
const Luminance = measureOut('Luminance', 'luminance', 'A luminance.')
const Illuminance = measureOut('Illuminance', 'illuminance', 'An illuminance.')
const VisualAngle = measureOut('VisualAngle', 'visualAngle', 'Angle at which something is seen.')

const contrastLimit = (description: string) =>
  Type.Optional(plain({ minimum: 1.01, maximum: 1000, description }))

export const LegibilityRequest = named(
  'LegibilityRequest',
  Type.Object(
    {
      display: Type.Object(
        {
          luminance: ref(
            LuminanceIn,
            'Luminance of the lit characters at full brightness.',
            'display: luminance',
          ),
          unlitLuminance: Type.Optional(
            ref(
              LuminanceIn,
              'Luminance of what surrounds the lit characters, from stray light of the display; left out: 0.',
              'display: unlit luminance',
            ),
          ),
          dimmestLuminance: Type.Optional(
            ref(
              LuminanceIn,
              'Luminance of the lit characters at the darkest setting; left out: not checked.',
              'display: dimmest luminance',
            ),
          ),
          reflectance: ref(
            ShareIn,
            'Share of ambient light that the display reflects, with its own cover and without the filter.',
            'display: reflectance',
          ),
        },
        { ...closed, description: 'The display, measured in the dark or by its data sheet.' },
      ),
      filters: Type.Array(
        Type.Object(
          {
            name: lineText(80, 'Name of the filter.', { examples: ['gray, quarter'] }),
            transmittance: ref(
              ShareIn,
              'Share of the light of the display that passes the filter; 1: there is no filter, and no front that reflects.',
              'filter {n}: transmittance',
            ),
          },
          { ...closed, description: 'A filter.' },
        ),
        { minItems: 1, maxItems: 50, description: 'Filters to compare.' },
      ),
      surfaceReflectance: Type.Optional(
        ref(
          ShareIn,
          'Share of ambient light that the front of the filter reflects; left out: 0.04 ± 0.005, without coating.',
          'front of the filter: reflectance',
        ),
      ),
      day: Type.Optional(
        Type.Object(
          {
            illuminance: Type.Optional(
              ref(IlluminanceIn, 'On the front of the filter; left out: 45,000 lx.', 'day: illuminance'),
            ),
            minContrastRatio: contrastLimit('Lowest contrast ratio of the characters; left out: 2.'),
          },
          { ...closed, description: 'Light by day.' },
        ),
      ),
      night: Type.Optional(
        Type.Object(
          {
            illuminance: Type.Optional(
              ref(IlluminanceIn, 'On the front of the filter; left out: 5 lx.', 'night: illuminance'),
            ),
            minContrastRatio: contrastLimit('Lowest contrast ratio of the characters; left out: 5.'),
            minLuminance: Type.Optional(
              ref(SetLuminanceIn, 'Lowest luminance of the characters behind the filter; left out: 1 cd/m2.'),
            ),
            maxLuminance: Type.Optional(
              ref(
                SetLuminanceIn,
                'Highest luminance of the characters behind the filter, that does not dazzle; left out: 15 cd/m2.',
              ),
            ),
          },
          { ...closed, description: 'Light at night.' },
        ),
      ),
      character: Type.Object(
        {
          height: ref(CharacterHeightIn, 'Height of a digit.', 'character: height'),
          distance: ref(ViewingDistanceIn, 'From the eye to the display.', 'character: distance'),
          minAngle: Type.Optional(
            ref(SetVisualAngleIn, 'Smallest angle at which a digit may be seen; left out: 20 arcmin.'),
          ),
        },
        { ...closed, description: 'Size of the characters.' },
      ),
    },
    {
      ...closed,
      examples: [
        {
          display: {
            luminance: { cdPerM2: 6000, plusMinus: 600 },
            unlitLuminance: { cdPerM2: 6, plusMinus: 2 },
            dimmestLuminance: { cdPerM2: 12, plusMinus: 2 },
            reflectance: { value: 0.25, plusMinus: 0.03 },
          },
          filters: [
            { name: 'none', transmittance: 1 },
            { name: 'gray, quarter', transmittance: { value: 0.25, plusMinus: 0.01 } },
            { name: 'gray, tenth', transmittance: { value: 0.1, plusMinus: 0.005 } },
          ],
          character: { height: { mm: 14 }, distance: { mm: 750, plusMinus: 50 } },
        },
      ],
    },
  ),
)

const LegibilityCheck = shape('LegibilityCheck', 'Something that has to hold for a display to be read.', {
  kind: choice(['day-contrast', 'night-contrast', 'night-luminance', 'night-dimming'], {
    description: 'What is checked.',
  }),
  field: Type.String({
    description: 'Field to change where it does not conform, as a JSON Pointer.',
  }),
  text: Type.String({ description: 'What holds if it conforms.' }),
  probability,
  result: Conformity,
})

const FilteredDisplay = shape('FilteredDisplay', 'The display behind one filter.', {
  name: Type.String({ description: 'Name of the filter.' }),
  density: ref(Ratio, 'Optical density: the common logarithm of 1/transmittance.'),
  litLuminance: ref(Luminance, 'Of the lit characters by day, ambient light included.'),
  unlitLuminance: ref(Luminance, 'Of what surrounds them by day, ambient light included.'),
  contrastRatio: ref(Ratio, 'Lit ÷ unlit luminance by day.'),
  contrast: ref(Ratio, '(lit − unlit) ÷ (lit + unlit) luminance by day, 0 to 1.'),
  night: Type.Optional(
    Type.Object(
      {
        minLuminance: ref(Luminance, 'Lowest setting, of the display without the filter.'),
        maxLuminance: ref(Luminance, 'Highest setting, of the display without the filter.'),
        minShare: ref(Ratio, 'Lowest setting as a share of the full luminance.'),
        maxShare: ref(Ratio, 'Highest setting as a share of the full luminance.'),
      },
      {
        ...closed,
        description: 'Settings of the display that serve at night; absent where there are none.',
      },
    ),
  ),
  checks: listOf(LegibilityCheck, 10, 'What has to hold by day and at night.'),
  verdict: Conformity,
})

export const LegibilityAnswer = calculationAnswer('LegibilityAnswer', 'Whether a display can be read.', {
  day: Type.Object(
    {
      illuminance: ref(Illuminance, 'On the front of the filter.'),
      minContrastRatio: plainOut('Lowest contrast ratio.'),
      bestTransmittance: ref(Ratio, 'Transmittance of the filter with the highest contrast.'),
      bestContrastRatio: ref(Ratio, 'The contrast ratio with that filter.'),
      serves: Type.Optional(
        Type.Object(
          {
            minTransmittance: ref(Ratio, 'Of the darkest filter that serves.'),
            maxTransmittance: ref(Ratio, 'Of the lightest filter that serves; 1: none is needed.'),
            minDensity: ref(Ratio, 'Optical density of the lightest filter that serves.'),
            maxDensity: ref(Ratio, 'Optical density of the darkest filter that serves.'),
          },
          {
            ...closed,
            description: 'Filters with which the contrast is reached; absent where none is proven to.',
          },
        ),
      ),
    },
    { ...closed, description: 'Which filters serve by day, whether listed or not.' },
  ),
  filters: listOf(FilteredDisplay, 50, 'The display behind each filter, as listed.'),
  character: Type.Object(
    {
      angle: ref(VisualAngle, 'Angle at which a digit is seen.'),
      requiredHeight: ref(Length, 'Height of a digit that is seen at the smallest angle.'),
      minAngle: ref(VisualAngle, 'Smallest angle at which a digit may be seen.'),
      probability,
      result: Conformity,
    },
    { ...closed, description: 'Size of the characters.' },
  ),
  budget,
  assumptions,
})
