import { DomainError, finite } from '../errors.js'

/** A rising curve through points: cubic between them, straight beyond them. */
export interface MonotoneCurve {
  readonly xs: readonly number[]
  readonly ys: readonly number[]
  /** dy/dx at each point. */
  readonly slopes: readonly number[]
}

/**
 * Monotone curve through rising points, without overshoot between them.
 *
 *     sᵢ = (yᵢ₊₁ − yᵢ)/(xᵢ₊₁ − xᵢ),  hᵢ = xᵢ₊₁ − xᵢ,  pᵢ = (sᵢ₋₁·hᵢ + sᵢ·hᵢ₋₁)/(hᵢ₋₁ + hᵢ)
 *     inner slope dᵢ = 2·min(sᵢ₋₁, sᵢ, pᵢ/2);  end slopes d₀ = (3·s₀ − d₁)/2, from y″ = 0;  two points: dᵢ = s₀
 *
 * Every slope lies above 0 and at most at twice its chord; below thrice the cubic rises throughout (Fritsch and Carlson). y″ = 0 at
 * the ends makes the straight extrapolation smooth. A point affects the curve only up to the second point from it.
 *
 * @param points - At least two, x and y both rising, any unit
 * @returns The curve
 * @throws {DomainError} `too-few-readings`, `not-finite`, `out-of-range` for points that do not rise
 * @see M. Steffen (1990), Astron. Astrophys. 239, 443, eq. (11); F. N. Fritsch, R. E. Carlson (1980), SIAM J. Numer. Anal. 17, 238
 * @example monotoneCurve([{ x: 0, y: 0 }, { x: 1, y: 1 }, { x: 3, y: 2 }]).slopes[1] // 0.8333333333 ± 1e-9
 */
export function monotoneCurve(
  points: ReadonlyArray<{ readonly x: number; readonly y: number }>,
): MonotoneCurve {
  if (points.length < 2) {
    throw new DomainError('too-few-readings', `points: expected at least 2, got ${points.length}`, {
      min: 2,
    })
  }
  const xs = points.map(({ x }) => finite('x', x))
  const ys = points.map(({ y }) => finite('y', y))
  const steps = xs.slice(1).map((x, i) => x - xs[i]!)
  const chords = steps.map((step, i) => finite('slope', (ys[i + 1]! - ys[i]!) / step))
  const falling = steps.findIndex((step, i) => !(step > 0 && chords[i]! > 0))
  if (falling >= 0) {
    throw new DomainError(
      'out-of-range',
      `points: point ${falling + 2} does not rise above the one before it`,
      {
        index: falling + 1,
      },
    )
  }
  const last = xs.length - 1
  const slopes = xs.map((_, i) => {
    if (i === 0 || i === last) return chords[0]!
    const [before, after] = [chords[i - 1]!, chords[i]!]
    const parabola = (before * steps[i]! + after * steps[i - 1]!) / (steps[i - 1]! + steps[i]!)
    return 2 * Math.min(before, after, parabola / 2)
  })
  if (last > 1) {
    slopes[0] = (3 * chords[0]! - slopes[1]!) / 2
    slopes[last] = (3 * chords[last - 1]! - slopes[last - 1]!) / 2
  }
  return { xs, ys, slopes }
}

/** The interval of rising `values` that contains a value; the first or last one for values beyond them. */
function intervalOf(values: readonly number[], value: number): number {
  let low = 0
  let high = values.length - 2
  while (low < high) {
    const middle = (low + high + 1) >> 1
    if (values[middle]! <= value) low = middle
    else high = middle - 1
  }
  return low
}

/** Value and slope inside interval `i`, `offset` after its start. */
function inside({ xs, ys, slopes }: MonotoneCurve, i: number, offset: number): readonly [number, number] {
  const h = xs[i + 1]! - xs[i]!
  const t = offset / h
  const rise = ys[i + 1]! - ys[i]!
  // Coefficients of t² and t³ of the cubic with these ends and end slopes.
  const c2 = 3 * rise - (2 * slopes[i]! + slopes[i + 1]!) * h
  const c3 = (slopes[i]! + slopes[i + 1]!) * h - 2 * rise
  return [ys[i]! + t * (slopes[i]! * h + t * (c2 + t * c3)), slopes[i]! + (t * (2 * c2 + 3 * t * c3)) / h]
}

/**
 * Value and slope of a rising curve.
 *
 *     y = yᵢ + dᵢ·h·t + c₂·t² + c₃·t³,  t = (x − xᵢ)/h,  c₂ = 3Δy − (2dᵢ + dᵢ₊₁)h,  c₃ = (dᵢ + dᵢ₊₁)h − 2Δy
 *     beyond the ends: y = y₀ + d₀·(x − x₀)
 *
 * dᵢ is the slope at point i, h the distance to the next point; d₀ stands for the slope at either end.
 *
 * @param curve - The curve
 * @param x - Any finite number, unit of the points
 * @returns y, and dy/dx, which is above 0
 * @throws {DomainError} `not-finite`
 * @see M. Steffen (1990), eq. (2) to (5)
 * @example curveAt(monotoneCurve([{ x: 0, y: 0 }, { x: 1, y: 1 }, { x: 2, y: 3 }]), 0.5).value // 0.40625 ± 1e-12
 */
export function curveAt(curve: MonotoneCurve, x: number): { readonly value: number; readonly slope: number } {
  const { xs, ys, slopes } = curve
  const last = xs.length - 1
  finite('x', x)
  const end = x < xs[0]! ? 0 : x > xs[last]! ? last : undefined
  if (end !== undefined) {
    return { value: finite('y', ys[end]! + slopes[end]! * (x - xs[end]!)), slope: slopes[end]! }
  }
  const i = intervalOf(xs, x)
  const [value, slope] = inside(curve, i, x - xs[i]!)
  return { value: finite('y', value), slope }
}

/**
 * Value on the straight line through the two neighboring points; beyond the ends, through the last two.
 *
 *     y = yᵢ + sᵢ·(x − xᵢ)
 *
 * sᵢ is the slope between point i and the next.
 *
 * The distance of the curve from it shows how much the interpolation depends on the method.
 *
 * @param curve - The curve
 * @param x - Any finite number, unit of the points
 * @returns y on the chord
 * @throws {DomainError} `not-finite`
 * @see derived: line through two points
 * @example chordAt(monotoneCurve([{ x: 0, y: 0 }, { x: 1, y: 1 }, { x: 2, y: 3 }]), 1.5) // 2 ± 1e-12
 */
export function chordAt(curve: MonotoneCurve, x: number): number {
  const { xs, ys } = curve
  const i = intervalOf(xs, finite('x', x))
  return finite('y', ys[i]! + ((ys[i + 1]! - ys[i]!) / (xs[i + 1]! - xs[i]!)) * (x - xs[i]!))
}

/** Halvings of an interval after which its ends are neighboring doubles. */
const HALVINGS = 60

/**
 * Argument at which a rising curve has a value: the inverse of `curveAt`.
 *
 *     x with y(x) = y, by halving the interval between two points
 *
 * @param curve - The curve
 * @param y - Any finite number, unit of the values
 * @returns x, to the last digits
 * @throws {DomainError} `not-finite`
 * @see derived: a rising continuous function takes each value once
 * @example argumentAt(monotoneCurve([{ x: 0, y: 0 }, { x: 1, y: 1 }, { x: 2, y: 3 }]), 0.40625) // 0.5 ± 1e-12
 */
export function argumentAt(curve: MonotoneCurve, y: number): number {
  const { xs, ys, slopes } = curve
  const last = xs.length - 1
  finite('y', y)
  const end = y < ys[0]! ? 0 : y > ys[last]! ? last : undefined
  if (end !== undefined) return finite('x', xs[end]! + (y - ys[end]!) / slopes[end]!)
  const i = intervalOf(ys, y)
  let low = 0
  let high = xs[i + 1]! - xs[i]!
  for (let n = 0; n < HALVINGS; n++) {
    const middle = (low + high) / 2
    if (inside(curve, i, middle)[0] <= y) low = middle
    else high = middle
  }
  return xs[i]! + (low + high) / 2
}
