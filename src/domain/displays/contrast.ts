import { marginProbability, PROVEN } from '../measure/conformity.js'
import { exact, type Figure } from '../measure/figure.js'
import { product, propagate, quotient, scaled, sum } from '../measure/propagation.js'

/** What reaches the eye from a display behind a filter, in one ambient light. */
export interface DisplayInLight {
  /** Of the lit characters in the dark, without a filter. */
  readonly litCdPerM2: Figure
  /** Of what surrounds them in the dark, without a filter. */
  readonly unlitCdPerM2: Figure
  /** Ambient light that the display itself reflects, without a filter. */
  readonly behindCdPerM2: Figure
  /** Ambient light that the front of the filter reflects. */
  readonly frontCdPerM2: Figure
}

/**
 * Luminance of a diffuse reflector.
 *
 *     L = ρ·E/π
 *
 * @param reflectance - ρ, 0 to 1
 * @param illuminanceLx - E. [lx]
 * @returns L. [cd/m2]
 * @see derived: definition of luminance and of a diffuse (Lambertian) reflector
 * @example reflectedCdPerM2(exact(1), exact(Math.PI)).value // 1 ± 1e-12
 */
export function reflectedCdPerM2(reflectance: Figure, illuminanceLx: Figure): Figure {
  return scaled(product(reflectance, illuminanceLx), 1 / Math.PI)
}

/**
 * Ambient light that reaches the eye from a display behind a filter.
 *
 *     R = τ²·a + s
 *
 * τ is the transmittance of the filter, a what the display reflects without a filter, s what the front of the filter reflects. Light
 * passes the filter on its way to the display and again on its way back.
 *
 * @param light - Display in ambient light, a and s. [cd/m2]
 * @param transmittance - τ, 0 to 1
 * @returns R. [cd/m2]
 * @see derived: definition of transmittance
 * @example ambientCdPerM2({ litCdPerM2: exact(0), unlitCdPerM2: exact(0), behindCdPerM2: exact(100), frontCdPerM2: exact(5) }, exact(0.2)).value // 9 ± 1e-12
 */
export function ambientCdPerM2(light: DisplayInLight, transmittance: Figure): Figure {
  return sum(product(product(transmittance, transmittance), light.behindCdPerM2), light.frontCdPerM2)
}

/**
 * Contrast ratio of lit characters behind a filter.
 *
 *     C = (τ·L + R)/(τ·L₀ + R)
 *
 * τ is the transmittance of the filter, L the luminance of the characters, L₀ that of their surroundings, R the ambient light of
 * `ambientCdPerM2`.
 *
 * @param light - Display in ambient light. [cd/m2]
 * @param transmittance - τ, 0 to 1
 * @returns C, from 1
 * @throws {DomainError} `not-finite` in the dark without light from the surroundings
 * @see derived: definition of the contrast ratio
 * @example contrastRatio({ litCdPerM2: exact(500), unlitCdPerM2: exact(0), behindCdPerM2: exact(100), frontCdPerM2: exact(0) }, exact(1)).value // 6 ± 1e-12
 * @example contrastRatio({ litCdPerM2: exact(500), unlitCdPerM2: exact(0), behindCdPerM2: exact(100), frontCdPerM2: exact(0) }, exact(0.2)).value // 26 ± 1e-12
 */
export function contrastRatio(light: DisplayInLight, transmittance: Figure): Figure {
  const ambient = ambientCdPerM2(light, transmittance)
  return quotient(
    sum(product(transmittance, light.litCdPerM2), ambient),
    sum(product(transmittance, light.unlitCdPerM2), ambient),
  )
}

/**
 * Luminance by which lit characters exceed a contrast ratio.
 *
 *     m = τ·(L − C·L₀) − (C − 1)·R
 *
 * Linear in the luminances, so that its uncertainty is exact where that of the ratio is approximate. τ, L, L₀ and R as in `contrastRatio`.
 *
 * @param light - Display in ambient light. [cd/m2]
 * @param transmittance - τ, 0 to 1
 * @param ratio - C
 * @returns m, at or above zero where the contrast is reached. [cd/m2]
 * @see derived: `contrastRatio` solved for the difference
 * @example contrastMarginCdPerM2({ litCdPerM2: exact(500), unlitCdPerM2: exact(0), behindCdPerM2: exact(100), frontCdPerM2: exact(0) }, exact(1), 6).value // 0 ± 1e-12
 */
export function contrastMarginCdPerM2(light: DisplayInLight, transmittance: Figure, ratio: number): Figure {
  return sum(
    product(transmittance, sum(light.litCdPerM2, scaled(light.unlitCdPerM2, -ratio))),
    scaled(ambientCdPerM2(light, transmittance), 1 - ratio),
  )
}

/**
 * Transmittance at which the contrast is highest.
 *
 *     τ = √(s/a), at most 1
 *
 * s and a are the ambient light that the front of the filter and the display reflect. A darker filter dims the display more than
 * its surface, which reflects the same whatever the filter.
 *
 * @param light - Display in ambient light, s and a. [cd/m2]
 * @returns τ
 * @see derived: (C − 1) is ΔL/(L₀ + a·τ + s/τ), highest where a·τ = s/τ
 * @example bestTransmittance({ litCdPerM2: exact(500), unlitCdPerM2: exact(0), behindCdPerM2: exact(100), frontCdPerM2: exact(4) }).value // 0.2 ± 1e-12
 */
export function bestTransmittance(light: DisplayInLight): Figure {
  const square = quotient(light.frontCdPerM2, light.behindCdPerM2)
  if (square.value >= 1) return exact(1)
  const root = Math.sqrt(square.value)
  return propagate(root, [[square, 0.5 / root]], (value) => Math.sqrt(value!))
}

/**
 * Transmittances of a filter with which a contrast ratio is reached.
 *
 *     a·τ² − b·τ + s ≤ 0,  b = (L − L₀)/(C − 1) − L₀
 *     τ = 2s/(b + √(b² − 4·a·s)) to (b + √(b² − 4·a·s))/(2a), at most 1
 *
 * a and s are the ambient light that the display and the front of the filter reflect, L the luminance of the characters, L₀ that of
 * their surroundings. The lower root is not written as a difference, which would lose digits.
 *
 * @param light - Display in ambient light. [cd/m2]
 * @param ratio - C, above 1
 * @returns Lowest and highest τ; undefined where it is not proven that there is one
 * @see derived: `contrastMarginCdPerM2` as a quadratic of τ
 * @example servingTransmittances({ litCdPerM2: exact(25), unlitCdPerM2: exact(0), behindCdPerM2: exact(100), frontCdPerM2: exact(1) }, 2).max.value // 0.2 ± 1e-12
 * @example servingTransmittances({ litCdPerM2: exact(25), unlitCdPerM2: exact(0), behindCdPerM2: exact(100), frontCdPerM2: exact(1) }, 2).min.value // 0.05 ± 1e-12
 */
export function servingTransmittances(
  light: DisplayInLight,
  ratio: number,
): { readonly min: Figure; readonly max: Figure } | undefined {
  const margin = contrastMarginCdPerM2(light, exact(bestTransmittance(light).value), ratio)
  if (marginProbability(margin, light.litCdPerM2.value) < PROVEN) return undefined
  const { litCdPerM2, unlitCdPerM2, behindCdPerM2: a, frontCdPerM2: s } = light
  const b = sum(scaled(litCdPerM2, 1 / (ratio - 1)), scaled(unlitCdPerM2, -ratio / (ratio - 1)))
  const root = Math.sqrt(Math.max(0, b.value ** 2 - 4 * a.value * s.value))
  /** Implicit differentiation: (2aτ − b)·dτ = −τ²·da + τ·db − ds. */
  const at = (transmittance: number) => {
    const slope = 2 * a.value * transmittance - b.value
    if (slope === 0) return exact(transmittance)
    return propagate(transmittance, [
      [a, -(transmittance ** 2) / slope],
      [b, transmittance / slope],
      [s, -1 / slope],
    ])
  }
  const max = (b.value + root) / (2 * a.value)
  return { min: at((2 * s.value) / (b.value + root)), max: max < 1 ? at(max) : exact(1) }
}
