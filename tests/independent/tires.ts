import type { Draws } from './draws.js'

const MM_PER_INCH = 25.4

/** A tire of a request, and the circumference of one that fits it. [mm] */
export interface DrawnTire {
  readonly request: Record<string, unknown>
  readonly circumferenceMm: (draws: Draws) => number
}

/** Circumference over diameter: even from 2.5 % below to 1.5 % above 3.05 for a radial, 2.99 for a diagonal tire (ETRTO, from memory). */
const factor = (draws: Draws, stated: number) => stated * draws.between(0.975, 1.015)

/** Sizes, and their diameter by UN R30: rim and two section heights. Those without a height are estimated, within ± a share of it. */
const SIZES = [
  { size: '195/70R14', diameterMm: 14 * MM_PER_INCH + 2 * 195 * 0.7, stated: 3.05, share: 0 },
  { size: '205/60R15', diameterMm: 15 * MM_PER_INCH + 2 * 205 * 0.6, stated: 3.05, share: 0 },
  { size: '175/70R13', diameterMm: 13 * MM_PER_INCH + 2 * 175 * 0.7, stated: 3.05, share: 0 },
  { size: '190/65R390', diameterMm: 390 + 2 * 190 * 0.65, stated: 3.05, share: 0 },
  { size: '195/75-14', diameterMm: 14 * MM_PER_INCH + 2 * 195 * 0.75, stated: 2.99, share: 0 },
  { size: '31x10.50R15LT', diameterMm: 31 * MM_PER_INCH, stated: 3.05, share: 0 },
  // Full-profile radial that no table holds: H = 0.82 S, ± 3 % of the diameter.
  { size: '215R17', diameterMm: 17 * MM_PER_INCH + 2 * 215 * 0.82, stated: 3.05, share: 0.03 },
] as const

function bySize(draws: Draws): DrawnTire {
  const { size, diameterMm, stated, share } = draws.oneOf(SIZES)
  if (draws.even() < 0.6)
    return {
      request: { size },
      circumferenceMm: (d) => factor(d, stated) * d.about(diameterMm, diameterMm * share),
    }
  const wearMm = draws.between(1, 6)
  const plusMinus = draws.between(0, 1)
  return {
    request: { size, wear: { mm: wearMm, plusMinus } },
    // Between two thirds and all of the wear reaches the rolling radius.
    circumferenceMm: (d) =>
      factor(d, stated) * d.about(diameterMm, diameterMm * share) -
      2 * Math.PI * d.about(wearMm, plusMinus) * d.between(2 / 3, 1),
  }
}

function byDiameter(draws: Draws): DrawnTire {
  const mm = draws.between(560, 720)
  const plusMinus = draws.between(0, 0.02) * mm
  const construction = draws.oneOf(['radial', 'diagonal', undefined])
  const overallDiameter = { mm, plusMinus }
  if (construction !== undefined)
    return {
      request: { overallDiameter, construction },
      circumferenceMm: (d) => factor(d, construction === 'radial' ? 3.05 : 2.99) * d.about(mm, plusMinus),
    }
  return {
    request: { overallDiameter },
    // Not stated: a factor about 3.05, or less by anything up to what makes a diagonal tire of it.
    circumferenceMm: (d) => factor(d, d.between(2.99, 3.05)) * d.about(mm, plusMinus),
  }
}

function byMeasurement(draws: Draws): DrawnTire {
  const mm = draws.between(1700, 2200)
  if (draws.even() < 0.5) {
    const plusMinus = draws.between(0, 0.02) * mm
    return {
      request: { rollingCircumference: { mm, plusMinus } },
      circumferenceMm: (d) => d.about(mm, plusMinus),
    }
  }
  const perKm = 1e6 / mm
  const plusMinus = draws.between(0, 0.02) * perKm
  return { request: { turns: { perKm, plusMinus } }, circumferenceMm: (d) => 1e6 / d.about(perKm, plusMinus) }
}

/** Half of them by size. */
export function anyTire(draws: Draws): DrawnTire {
  const kind = draws.even()
  return kind < 0.5 ? bySize(draws) : kind < 0.75 ? byDiameter(draws) : byMeasurement(draws)
}
