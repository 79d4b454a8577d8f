import { normalCdf, normalRamp } from './distributions.js'

/**
 * Effect on a figure of an input that is uniform over its tolerance: the deviation from the estimate with the input at either end. The estimate
 * corresponds to the stated value of the input, which need not be the middle.
 */
export interface Rectangle {
  /** Deviation with the input at the low end of its tolerance; above zero where the figure falls as the input rises. */
  readonly atLow: number
  /** Deviation with the input at the high end. */
  readonly atHigh: number
  /** Share of the tolerance below the stated value. [0..1] */
  readonly shareBelow: number
}

/** Distribution of the deviation of a quantity from its estimate: a normal part about `shift`, and at most two rectangular parts, all independent. */
export interface Spread {
  readonly shift: number
  /** Standard uncertainty of the normal part. [>= 0] */
  readonly u: number
  readonly rectangles: readonly Rectangle[]
}

/** P(|Z| <= 2), Z standard normal: coverage of a coverage factor of 2, and thus of every `plusMinus`. */
export const COVERAGE = 0.9544997361036416

/** Beyond this many standard uncertainties the normal distribution is negligible: Φ(−8.3) is 5e-17. */
const NORMAL_REACH = 8.3

/** Number of parts into which the smaller of two rectangles is divided; the probability is then accurate to 0.001. */
const PARTS = 12

/** A rectangle narrower than this share of the normal uncertainty is merged into it. */
const NARROW = 1e-3

const NO_RECTANGLES: readonly Rectangle[] = []

const width = ({ atLow, atHigh }: Rectangle) => Math.abs(atHigh - atLow)

/** Deviation at position t of the tolerance, −shareBelow to 1 − shareBelow: the parabola through both ends and the estimate. */
function deviationAt({ atLow, atHigh, shareBelow }: Rectangle, t: number): number {
  const shareAbove = 1 - shareBelow
  if (shareBelow === 0) return (atHigh * t) / shareAbove
  if (shareAbove === 0) return (-atLow * t) / shareBelow
  const below = -atLow / shareBelow
  const bend = atHigh / shareAbove - below
  return t * (below + bend * (t + shareBelow))
}

/** Mean of a rectangle, with linear pieces between its ends and the estimate. */
const meanOf = ({ atLow, atHigh, shareBelow }: Rectangle) =>
  (atLow * shareBelow + atHigh * (1 - shareBelow)) / 2

/**
 * The rectangle of a scaled figure.
 *
 *     k·(deviation at either end)
 *
 * @param rectangle - Rectangle of the other figure
 * @param factor - k
 * @returns The rectangle
 * @see definition
 * @example scaledRectangle({ atLow: -2, atHigh: 1, shareBelow: 0.5 }, -2).atLow // 4 ± 0
 */
export function scaledRectangle(rectangle: Rectangle, factor: number): Rectangle {
  const { atLow, atHigh, shareBelow } = rectangle
  return { atLow: factor * atLow, atHigh: factor * atHigh, shareBelow }
}

/** The rectangles of a scaled figure; none are made for a figure without. */
export const scaledRectangles = (rectangles: readonly Rectangle[], factor: number): readonly Rectangle[] =>
  rectangles.length === 0 ? NO_RECTANGLES : rectangles.map((one) => scaledRectangle(one, factor))

const meanSquareOf = ({ atLow, atHigh, shareBelow }: Rectangle) =>
  (atLow * atLow * shareBelow + atHigh * atHigh * (1 - shareBelow)) / 3

/**
 * A spread of a normal part and any rectangles. The two widest rectangles keep their shape; narrower ones, and those far below the normal part,
 * are merged into it by mean and variance (central limit theorem).
 *
 *     shift = Σ m,  u² = u₀² + Σ σ²   over the merged rectangles
 *
 * m is the mean and σ² the variance of a rectangle.
 *
 * @param u - Standard uncertainty of the normal part. [>= 0]
 * @param rectangles - Rectangular parts, in any order
 * @returns The spread
 * @see JCGM 100:2008, 4.3.7, G.2.1 (central limit theorem)
 * @example spreadFrom(3, []).u // 3 ± 0
 */
export function spreadFrom(u: number, rectangles: readonly Rectangle[]): Spread {
  if (rectangles.length === 0) return { shift: 0, u, rectangles }
  if (rectangles.length === 1 && width(rectangles[0]!) > NARROW * u) return { shift: 0, u, rectangles }
  const widest = [...rectangles].sort((a, b) => width(b) - width(a))
  const kept = widest.filter((one, index) => index < 2 && width(one) > NARROW * u)
  let shift = 0
  let variance = u * u
  for (const one of widest.slice(kept.length)) {
    const mean = meanOf(one)
    shift += mean
    variance += meanSquareOf(one) - mean * mean
  }
  return { shift, u: Math.sqrt(variance), rectangles: kept.length === 0 ? NO_RECTANGLES : kept }
}

/**
 * A spread with one more normal part.
 *
 *     u² = u₀² + u₁²
 *
 * @param spread - The spread, u₀ its normal part
 * @param u - Standard uncertainty u₁ of the part, independent of all others. [>= 0]
 * @returns The wider spread; the same one if u₁ is 0
 * @see JCGM 100:2008, 5.1.2 eq. (10)
 * @example widened(spreadFrom(3, []), 4).u // 5 ± 0
 */
export function widened(spread: Spread, u: number): Spread {
  if (u === 0) return spread
  const { shift, rectangles } = spread
  return { shift, u: Math.hypot(spread.u, u), rectangles }
}

/**
 * The spread of the negated quantity.
 *
 *     E' = −E
 *
 * @param spread - The spread
 * @returns That of −E
 * @see definition
 * @example mirrored(spreadFrom(0, [{ atLow: -2, atHigh: 1, shareBelow: 0.5 }])).rectangles[0].atHigh // -1 ± 0
 */
export function mirrored(spread: Spread): Spread {
  const { shift, u, rectangles } = spread
  if (rectangles.length === 0) return shift === 0 ? spread : { shift: -shift, u, rectangles }
  return {
    shift: -shift,
    u,
    rectangles: scaledRectangles(rectangles, -1),
  }
}

/** Maximum deviation of a spread in either direction. */
function reach({ shift, u, rectangles }: Spread): number {
  let farthest = Math.abs(shift) + NORMAL_REACH * u
  for (const { atLow, atHigh } of rectangles) farthest += Math.max(Math.abs(atLow), Math.abs(atHigh))
  return farthest
}

/** P(N(0, u) + E < x), E uniform between a and b, with the ramps R(x − a) and R(x − b). */
function belowOfPiece(a: number, b: number, x: number, u: number, rampA: number, rampB: number): number {
  if (Math.abs(b - a) <= NARROW * NARROW * u) return normalCdf((x - (a + b) / 2) / u)
  return (rampA - rampB) / (b - a)
}

/** P(N(0, u) + E < x) of one rectangle, with linear pieces between its ends, the midpoints and the estimate. */
function belowOfRectangle(rectangle: Rectangle, x: number, u: number): number {
  const { atLow, atHigh, shareBelow } = rectangle
  // Neighboring pieces share the ramp at the point where they meet.
  const atEstimate = normalRamp(x, u)
  let below = 0
  if (shareBelow > 0) {
    const half = deviationAt(rectangle, -shareBelow / 2)
    const atHalf = normalRamp(x - half, u)
    below +=
      (shareBelow / 2) *
      (belowOfPiece(atLow, half, x, u, normalRamp(x - atLow, u), atHalf) +
        belowOfPiece(half, 0, x, u, atHalf, atEstimate))
  }
  if (shareBelow < 1) {
    const half = deviationAt(rectangle, (1 - shareBelow) / 2)
    const atHalf = normalRamp(x - half, u)
    below +=
      ((1 - shareBelow) / 2) *
      (belowOfPiece(0, half, x, u, atEstimate, atHalf) +
        belowOfPiece(half, atHigh, x, u, atHalf, normalRamp(x - atHigh, u)))
  }
  return below
}

/**
 * Probability that a deviation lies below a value.
 *
 *     P(E < x) = Φ((x − shift)/u)                                                 normal part alone
 *     P(E < x) = Σ wₖ·(R(x − aₖ) − R(x − bₖ))/(bₖ − aₖ),  R(z) = z·Φ(z/u) + u·φ(z/u)      with a rectangle
 *
 * E is the deviation, φ the density of the standard normal distribution, z the argument of R.
 *
 * aₖ to bₖ are the pieces between the ends of the rectangle, the estimate and the midpoints, each with its share wₖ of the tolerance: a
 * quotient is not linear over a tolerance of 4 %. A second rectangle is divided into twelve equal parts. Accurate to 0.002.
 *
 * @param spread - The spread
 * @param x - Deviation from the estimate, unit of the spread
 * @returns P(E < x), 0 to 1; without any spread 0 for x ≤ shift, else 1
 * @see JCGM 100:2008, 4.3.7 (rectangular), 4.3.4 (normal); the convolution: derived
 * @example probabilityBelow(spreadFrom(0, [{ atLow: -2.5, atHigh: 1.5, shareBelow: 0.625 }]), 0) // 0.625 ± 1e-12
 * @example probabilityBelow(spreadFrom(1, []), -1.6448536) // 0.05 ± 1e-6
 */
export function probabilityBelow(spread: Spread, x: number): number {
  const { u, rectangles } = spread
  const from = x - spread.shift
  const [widest, other] = rectangles
  if (widest === undefined) return u > 0 ? normalCdf(from / u) : from > 0 ? 1 : 0
  if (Math.abs(x) >= reach(spread)) return x > 0 ? 1 : 0
  if (other === undefined) return belowOfRectangle(widest, from, u)
  let below = 0
  for (let part = 0; part < PARTS; part++) {
    const place = (part + 0.5) / PARTS - other.shareBelow
    below += belowOfRectangle(widest, from - deviationAt(other, place), u)
  }
  return below / PARTS
}

/** Maximum iterations of the root search: in the worst case every second one halves the bracket. */
const ROUNDS = 100

/** Deviation where a function that rises from below zero to above it is zero, to 1e-12 of the bracket: false position, Illinois variant. */
function rootOf(rising: (x: number) => number, lowEnd: number, highEnd: number): number {
  let [a, b] = [lowEnd, highEnd]
  let [fa, fb] = [rising(a), rising(b)]
  const enough = 1e-12 * (highEnd - lowEnd)
  for (let round = 0; round < ROUNDS && b - a > enough; round++) {
    const straight = b - (fb * (b - a)) / (fb - fa)
    const x = straight > a && straight < b ? straight : (a + b) / 2
    const f = rising(x)
    if (Math.abs(f) < 1e-15) return x
    if (f < 0) {
      ;[a, fa] = [x, f]
      fb /= 2
    } else {
      ;[b, fb] = [x, f]
      fa /= 2
    }
  }
  return (a + b) / 2
}

/** A search for a deviation of a spread; `of` identifies the kind of deviation. */
interface Search {
  readonly of: number
  readonly find: (spread: Spread) => number
}

/** Resolution at which the shapes of two spreads are compared. */
const FORM = 1e9

/** Cache of the last deviations used, the latest first, by kind of deviation and shape. */
const FOUND: Array<{ readonly of: number; readonly form: readonly number[]; readonly deviation: number }> = []
const MAX_FOUND = 64

/** The shape of a spread regardless of its size, in whole numbers, so that rounding does not make equal shapes differ. */
function formOf({ shift, u, rectangles }: Spread, size: number): readonly number[] {
  const form = [Math.round((FORM * shift) / size), Math.round((FORM * u) / size)]
  for (const { atLow, atHigh, shareBelow } of rectangles) {
    form.push(
      Math.round((FORM * atLow) / size),
      Math.round((FORM * atHigh) / size),
      Math.round(FORM * shareBelow),
    )
  }
  return form
}

function isSameForm(one: readonly number[], other: readonly number[]): boolean {
  if (one.length !== other.length) return false
  for (let at = 0; at < one.length; at++) if (one[at] !== other[at]) return false
  return true
}

function spreadOfForm(form: readonly number[]): Spread {
  const rectangles: Rectangle[] = []
  for (let at = 2; at < form.length; at += 3) {
    rectangles.push({
      atLow: form[at]! / FORM,
      atHigh: form[at + 1]! / FORM,
      shareBelow: form[at + 2]! / FORM,
    })
  }
  return { shift: form[0]! / FORM, u: form[1]! / FORM, rectangles }
}

/**
 * Rows of one table, shafts of one path and its remedies have spreads of one shape and different size: each shape is searched once. The
 * result is a function of the shape alone, so an answer does not depend on earlier ones.
 */
function found(spread: Spread, { of, find }: Search): number {
  const size = reach(spread)
  const form = formOf(spread, size)
  for (let place = 0; place < FOUND.length; place++) {
    const known = FOUND[place]!
    if (known.of !== of || !isSameForm(known.form, form)) continue
    // To the front: the shapes of tires that are given alike come again with every vehicle.
    for (let at = place; at > 0; at--) FOUND[at] = FOUND[at - 1]!
    FOUND[0] = known
    return known.deviation * size
  }
  const deviation = find(spreadOfForm(form))
  FOUND.unshift({ of, form, deviation })
  if (FOUND.length > MAX_FOUND) FOUND.pop()
  return deviation * size
}

const EVEN_INTERVAL: Search = {
  of: COVERAGE,
  find: (spread) =>
    rootOf((h) => probabilityBelow(spread, h) - probabilityBelow(spread, -h) - COVERAGE, 0, reach(spread)),
}

/**
 * Half-width of the symmetric interval about the estimate that contains the quantity with a probability of 95.45 %, as k = 2 does for a normal
 * distribution.
 *
 *     h: P(−h ≤ E ≤ h) = 0.9545;  2·u where the spread is normal about the estimate
 *
 * E is the deviation.
 *
 * @param spread - The spread
 * @returns h, unit of the spread, to 1e-9 of it
 * @see JCGM 100:2008, 6.3.3, G.1.3 (coverage of distributions that are not normal)
 * @example halfWidth(spreadFrom(0.25, [])) // 0.5 ± 0
 * @example halfWidth(spreadFrom(0, [{ atLow: -2.5, atHigh: 1.5, shareBelow: 0.625 }])) // 2.318 ± 1e-4
 */
export function halfWidth(spread: Spread): number {
  if (spread.rectangles.length === 0 && spread.shift === 0) return 2 * spread.u
  return found(spread, EVEN_INTERVAL)
}

/**
 * Guard band: how far a quantity may lie below its estimate, up to a given probability.
 *
 *     g: P(E < −g) = p;  z·u where the spread is normal about the estimate, Φ(−z) = p
 *
 * E is the deviation.
 *
 * @param spread - The spread
 * @param z - Standard score that stands for the probability p = Φ(−z). [> 0]
 * @returns g, unit of the spread, to 1e-9 of it; below zero if the estimate itself lies beyond that quantile
 * @see JCGM 106:2012, 8.3.2 (guard band)
 * @example reachBelow(spreadFrom(2, []), 1.5) // 3 ± 0
 * @example reachBelow(spreadFrom(0, [{ atLow: -2.5, atHigh: 1.5, shareBelow: 0.625 }]), 1.6448536) // 2.3 ± 1e-6
 */
export function reachBelow(spread: Spread, z: number): number {
  if (spread.rectangles.length === 0 && spread.shift === 0) return z * spread.u
  const p = normalCdf(-z)
  return -found(spread, {
    of: p,
    find: (one) => rootOf((x) => probabilityBelow(one, x) - p, -reach(one), reach(one)),
  })
}
