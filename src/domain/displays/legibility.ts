import { DomainError } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { type ConformityResult, conformityResult, marginProbability } from '../measure/conformity.js'
import { digits } from '../measure/digits.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { product, propagate, quotient, scaled, sum } from '../measure/propagation.js'
import type { Traced } from '../measure/provenance.js'
import type { SourceId } from '../measure/sources.js'
import { toSi } from '../measure/units.js'
import type { Mutable } from '../mutable.js'
import {
  ambientCdPerM2,
  bestTransmittance,
  contrastMarginCdPerM2,
  contrastRatio,
  type DisplayInLight,
  reflectedCdPerM2,
  servingTransmittances,
} from './contrast.js'
import { heightAtAngleM, visualAngleRad } from './visual-angle.js'

export interface LegibilityRequest {
  readonly display: {
    readonly luminanceCdPerM2: Figure
    /** Left out: 0. */
    readonly unlitLuminanceCdPerM2?: Figure
    /** At its darkest setting; left out: not checked. */
    readonly dimmestLuminanceCdPerM2?: Figure
    readonly reflectance: Figure
  }
  readonly filters: readonly { readonly name: string; readonly transmittance: Figure }[]
  readonly surfaceReflectance?: Figure
  readonly day?: { readonly illuminanceLx?: Figure; readonly minContrastRatio?: number }
  readonly night?: {
    readonly illuminanceLx?: Figure
    readonly minContrastRatio?: number
    readonly minLuminanceCdPerM2?: number
    readonly maxLuminanceCdPerM2?: number
  }
  readonly character: {
    readonly heightM: Figure
    readonly distanceM: Figure
    readonly minAngleRad?: number
  }
}

export type LegibilityCheckKind = 'day-contrast' | 'night-contrast' | 'night-luminance' | 'night-dimming'

export interface LegibilityCheck {
  readonly kind: LegibilityCheckKind
  /** JSON Pointer of the field to change where it does not conform. */
  readonly field: string
  readonly text: string
  readonly probability: number
  readonly result: ConformityResult
}

/** Luminance of the display at night, and the share of its full luminance. */
interface Dimming {
  readonly minLuminanceCdPerM2: Figure
  readonly maxLuminanceCdPerM2: Figure
  readonly minShare: Figure
  readonly maxShare: Figure
}

export interface FilteredDisplay {
  readonly name: string
  readonly density: Figure
  readonly litLuminanceCdPerM2: Figure
  readonly unlitLuminanceCdPerM2: Figure
  readonly contrastRatio: Figure
  readonly contrast: Figure
  /** Absent where no luminance serves at night. */
  readonly night?: Dimming
  readonly checks: readonly LegibilityCheck[]
  readonly verdict: ConformityResult
}

export interface Legibility extends Traced {
  readonly day: {
    readonly illuminanceLx: Figure
    readonly minContrastRatio: number
    readonly bestTransmittance: Figure
    readonly bestContrastRatio: Figure
    /** Absent where it is not proven that a filter serves. */
    readonly serves?: {
      readonly minTransmittance: Figure
      readonly maxTransmittance: Figure
      readonly minDensity: Figure
      readonly maxDensity: Figure
    }
  }
  readonly filters: readonly FilteredDisplay[]
  readonly character: {
    readonly angleRad: Figure
    readonly requiredHeightM: Figure
    readonly minAngleRad: number
    readonly probability: number
    readonly result: ConformityResult
  }
  readonly budget: readonly BudgetLine[]
  readonly assumptions: readonly Assumption[]
}

/** Front of a filter of refractive index 1.5, and its standard uncertainty. */
const SURFACE_REFLECTANCE = 0.04
const SURFACE_UNCERTAINTY = 0.0025

/**
 * Optical density of a filter.
 *
 *     D = −log₁₀ τ
 *
 * @param transmittance - τ, 0 to 1
 * @returns D
 * @see derived: definition of the optical density
 * @example opticalDensity(exact(0.1)).value // 1 ± 1e-12
 */
export function opticalDensity(transmittance: Figure): Figure {
  return propagate(
    -Math.log10(transmittance.value) + 0,
    [[transmittance, -1 / (transmittance.value * Math.LN10)]],
    (value) => -Math.log10(value!),
  )
}

/**
 * Whether a lit display behind each of several filters can be read by day and at night, and which filters serve.
 *
 *     C = (τ·L + R)/(τ·L₀ + R),  R = τ²·ρ·E/π + ρ_s·E/π
 *     at night: L ≥ (C_n − 1)·R_n/(τ·(1 − C_n·β)),  β = L₀/L;  τ·L from the lowest to the highest luminance
 *
 * τ is the transmittance of the filter, L the luminance of the lit characters, L₀ that of their surroundings, ρ the reflectance of the
 * display, ρ_s that of the front of the filter, E the illuminance, C_n and R_n contrast and ambient light at night.
 *
 * The surroundings are taken as equally bright on all sides, so that the front of the filter mirrors E/π. The image of the sun or of a
 * bright window in a glossy front is brighter by orders of magnitude. A transmittance of 1 stands for no filter, whose front reflects nothing.
 * Dimming dims lit and unlit parts alike.
 *
 * @param request - Display [cd/m2], filters, light by day and at night [lx], character [m]
 * @returns Contrast, luminance and checks of each filter; transmittances that serve by day; angle of the characters
 * @throws {DomainError} `limits-crossed` for unlit parts as bright as lit ones, a display that cannot be dimmed, or crossed limits at night
 * @see derived: `contrastRatio`; ISO 15008 and Fresnel for the defaults; common practice for the luminance at night
 * @example legibility({ display: { luminanceCdPerM2: exact(900), reflectance: exact(0.1) }, surfaceReflectance: exact(0.0001), day: { illuminanceLx: exact(1000 * Math.PI) }, filters: [{ name: 'gray', transmittance: exact(0.5) }], character: { heightM: exact(0.012), distanceM: exact(0.7) } }).filters[0].contrastRatio.value // 18.928287 ± 1e-6
 */
export function legibility(request: LegibilityRequest): Legibility {
  const taken: Assumption[] = []
  const { display, character } = request
  const limits = limitsOf(request, taken)
  const lit = display.luminanceCdPerM2
  const unlit = assumed(
    display.unlitLuminanceCdPerM2,
    exact(0),
    { field: '/display/unlitLuminance', value: '0 cd/m2: unlit parts are dark', standing: 'common-practice' },
    taken,
  )
  checkDisplay(request, unlit, limits)
  const front = assumed(
    request.surfaceReflectance,
    uncertain(SURFACE_REFLECTANCE, 'front of the filter: reflectance', SURFACE_UNCERTAINTY),
    {
      field: '/surfaceReflectance',
      value: '0.04 ± 0.005: refractive index 1.5, without coating',
      standing: 'from-memory',
    },
    taken,
  )
  const inLight = (illuminanceLx: Figure): DisplayInLight => ({
    litCdPerM2: lit,
    unlitCdPerM2: unlit,
    behindCdPerM2: reflectedCdPerM2(display.reflectance, illuminanceLx),
    frontCdPerM2: reflectedCdPerM2(front, illuminanceLx),
  })
  const day = inLight(limits.dayLx)
  const night = inLight(limits.nightLx)
  const filters = request.filters.map(({ name, transmittance }, index) => {
    const behind = (light: DisplayInLight) => (transmittance.value === 1 ? withoutFront(light) : light)
    return filteredDisplay({
      name,
      transmittance,
      index,
      day: behind(day),
      night: behind(night),
      limits,
      request,
    })
  })
  const best = exact(bestTransmittance(day).value)
  const range = servingTransmittances(day, limits.dayRatio)
  const daylight: Mutable<Legibility['day']> = {
    illuminanceLx: limits.dayLx,
    minContrastRatio: limits.dayRatio,
    bestTransmittance: bestTransmittance(day),
    bestContrastRatio: contrastRatio(day, best),
  }
  if (range !== undefined) {
    daylight.serves = {
      minTransmittance: range.min,
      maxTransmittance: range.max,
      minDensity: opticalDensity(range.max),
      maxDensity: opticalDensity(range.min),
    }
  }
  const angleRad = visualAngleRad(character.heightM, character.distanceM)
  const seen = marginProbability(sum(angleRad, exact(-limits.minAngleRad)), limits.minAngleRad)
  return {
    day: daylight,
    filters,
    character: {
      angleRad,
      requiredHeightM: heightAtAngleM(limits.minAngleRad, character.distanceM),
      minAngleRad: limits.minAngleRad,
      probability: seen,
      result: conformityResult(seen),
    },
    budget: budget(filters[0]!.contrastRatio),
    assumptions: taken,
    sources: [...SOURCES_OF_ALL, ...taken.flatMap(({ field }) => SOURCE_OF_DEFAULT[field] ?? [])],
    notes: LEGIBILITY_NOTES,
  }
}

const SOURCES_OF_ALL: readonly SourceId[] = ['filtered-display', 'definitions', 'gum', 'caller-reading']

const SOURCE_OF_DEFAULT: Readonly<Record<string, SourceId>> = {
  '/surfaceReflectance': 'fresnel-reflection',
  '/day/illuminance': 'iso-15008',
  '/day/minContrastRatio': 'iso-15008',
  '/night/minContrastRatio': 'iso-15008',
  '/character/minAngle': 'iso-15008',
  '/night/illuminance': 'night-luminance',
  '/night/minLuminance': 'night-luminance',
  '/night/maxLuminance': 'night-luminance',
}

const LEGIBILITY_NOTES: readonly Note[] = [
  infoNote(
    'mirror-image',
    'Ambient light is taken as equally bright on all sides. The image of the sun or of a bright window in a glossy filter outshines any display: tilt the filter, or give it a hood or a matte front.',
  ),
  cautionNote(
    'telltales',
    'The filter must not cover warning lights, such as high beam, turn signals, oil pressure and brakes, unless each can still be seen in sunlight.',
  ),
  cautionNote(
    'supply-fuse',
    'Feed the display through a fuse of its own close to where the feed branches off.',
  ),
]

interface Limits {
  readonly dayLx: Figure
  readonly dayRatio: number
  readonly nightLx: Figure
  readonly nightRatio: number
  readonly minNightCdPerM2: number
  readonly maxNightCdPerM2: number
  readonly minAngleRad: number
}

function limitsOf({ day = {}, night = {}, character }: LegibilityRequest, taken: Assumption[]): Limits {
  const memory = (field: string, value: string) => ({ field, value, standing: 'from-memory' as const })
  const practice = (field: string, value: string) => ({ field, value, standing: 'common-practice' as const })
  return {
    dayLx: assumed(
      day.illuminanceLx,
      exact(45_000),
      memory('/day/illuminance', '45,000 lx: sunlight on a display'),
      taken,
    ),
    dayRatio: assumed(
      day.minContrastRatio,
      2,
      memory('/day/minContrastRatio', '2: in sunlight; 3 in diffuse daylight'),
      taken,
    ),
    nightLx: assumed(night.illuminanceLx, exact(5), practice('/night/illuminance', '5 lx'), taken),
    nightRatio: assumed(night.minContrastRatio, 5, memory('/night/minContrastRatio', '5: at night'), taken),
    minNightCdPerM2: assumed(
      night.minLuminanceCdPerM2,
      1,
      practice('/night/minLuminance', '1 cd/m2 behind the filter'),
      taken,
    ),
    maxNightCdPerM2: assumed(
      night.maxLuminanceCdPerM2,
      15,
      practice('/night/maxLuminance', '15 cd/m2 behind the filter'),
      taken,
    ),
    minAngleRad: assumed(
      character.minAngleRad,
      toSi('visualAngle', 'arcmin', 20),
      memory('/character/minAngle', '20 minutes of arc: recommended; 16 acceptable, 12 the minimum'),
      taken,
    ),
  }
}

function checkDisplay({ display }: LegibilityRequest, unlit: Figure, limits: Limits): void {
  const { luminanceCdPerM2: lit, dimmestLuminanceCdPerM2: dimmest } = display
  const below = (field: string, given: number, bound: number, of: string) => {
    if (given < bound) return
    throw new DomainError(
      'limits-crossed',
      `${field.slice(1).replaceAll('/', '.')}: expected less than ${of}, ${digits(bound)} cd/m2, got ${digits(given)} cd/m2`,
      { pointer: field, max: bound, value: given },
    )
  }
  below('/display/unlitLuminance', unlit.value, lit.value, 'the luminance of lit characters')
  if (dimmest !== undefined)
    below('/display/dimmestLuminance', dimmest.value, lit.value, 'the full luminance')
  below('/night/minLuminance', limits.minNightCdPerM2, limits.maxNightCdPerM2, 'night.maxLuminance')
}

function filteredDisplay({
  name,
  transmittance,
  index,
  day,
  night,
  limits,
  request,
}: {
  readonly name: string
  readonly transmittance: Figure
  readonly index: number
  readonly day: DisplayInLight
  readonly night: DisplayInLight
  readonly limits: Limits
  readonly request: LegibilityRequest
}): FilteredDisplay {
  const ambient = ambientCdPerM2(day, transmittance)
  const litLuminanceCdPerM2 = sum(product(transmittance, day.litCdPerM2), ambient)
  const unlitLuminanceCdPerM2 = sum(product(transmittance, day.unlitCdPerM2), ambient)
  const field = `/filters/${index}/transmittance`
  const check = (kind: LegibilityCheckKind, at: string, margin: Figure | undefined, text: string) => {
    const probability = margin === undefined ? 0 : marginProbability(margin, day.litCdPerM2.value)
    return { kind, field: at, text, probability, result: conformityResult(probability) }
  }
  const { dimmestLuminanceCdPerM2: dimmest } = request.display
  const least = nightLuminanceCdPerM2(night, transmittance, limits.nightRatio)
  const darkest = quotient(exact(limits.minNightCdPerM2), transmittance)
  const brightest = quotient(exact(limits.maxNightCdPerM2), transmittance)
  const minimum = larger(least ?? darkest, darkest)
  const checks: LegibilityCheck[] = [
    check(
      'day-contrast',
      field,
      contrastMarginCdPerM2(day, transmittance, limits.dayRatio),
      `By day the contrast ratio is at least ${digits(limits.dayRatio)}.`,
    ),
    check(
      'night-contrast',
      least === undefined ? '/display/unlitLuminance' : field,
      least === undefined ? undefined : sum(brightest, scaled(least, -1)),
      `At night a contrast ratio of ${digits(limits.nightRatio)} is reached within ${digits(limits.maxNightCdPerM2)} cd/m2.`,
    ),
    check(
      'night-luminance',
      '/display/luminance',
      sum(day.litCdPerM2, scaled(minimum, -1)),
      `The display is bright enough for the night: at least ${digits(limits.minNightCdPerM2)} cd/m2 behind the filter, with the contrast.`,
    ),
  ]
  if (dimmest !== undefined) {
    checks.push(
      check(
        'night-dimming',
        '/display/dimmestLuminance',
        sum(brightest, scaled(dimmest, -1)),
        `The display can be dimmed to ${digits(limits.maxNightCdPerM2)} cd/m2 behind the filter.`,
      ),
    )
  }
  const result: Mutable<FilteredDisplay> = {
    name,
    density: opticalDensity(transmittance),
    litLuminanceCdPerM2,
    unlitLuminanceCdPerM2,
    contrastRatio: contrastRatio(day, transmittance),
    contrast: quotient(
      sum(litLuminanceCdPerM2, scaled(unlitLuminanceCdPerM2, -1)),
      sum(litLuminanceCdPerM2, unlitLuminanceCdPerM2),
    ),
    checks,
    verdict: conformityResult(Math.min(...checks.map(({ probability }) => probability))),
  }
  const maximum = brightest.value < day.litCdPerM2.value ? brightest : day.litCdPerM2
  if (least !== undefined && minimum.value <= maximum.value) {
    result.night = {
      minLuminanceCdPerM2: minimum,
      maxLuminanceCdPerM2: maximum,
      minShare: quotient(minimum, day.litCdPerM2),
      maxShare: quotient(maximum, day.litCdPerM2),
    }
  }
  return result
}

/** The display without a filter: the reflectance of the display holds its own cover. */
const withoutFront = (light: DisplayInLight): DisplayInLight => ({ ...light, frontCdPerM2: exact(0) })

const larger = (a: Figure, b: Figure) => (a.value >= b.value ? a : b)

/** Luminance at which a dimmed display reaches a contrast; undefined where its unlit parts are too bright at any. */
function nightLuminanceCdPerM2(
  night: DisplayInLight,
  transmittance: Figure,
  ratio: number,
): Figure | undefined {
  const left = sum(exact(1), scaled(quotient(night.unlitCdPerM2, night.litCdPerM2), -ratio))
  if (left.value <= 0) return undefined
  return quotient(scaled(ambientCdPerM2(night, transmittance), ratio - 1), product(transmittance, left))
}
