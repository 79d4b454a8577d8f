import { afterAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'
import { Draws } from './draws.js'
import { TEXT_RULES, type TextRule } from './rules.js'
import { anyTire } from './tires.js'

const app = await testApp()
afterAll(() => app.close())

const PATHS = 200
const DRAWS = 100_000

/** Another number tries other paths. */
const SEED = Number(process.env.DRAW_SEED ?? 20_261_130)

/** How far a stated probability may lie from the share of draws: 0.01, of which the draws themselves scatter by 0.0016 (k = 1) at most. */
const NEAR = 0.01
const MIN_COVERED = 0.93
const MAX_COVERED = 0.99

/** Speeds of the range at which the verdict over all speeds is tried. [km/h] */
const TRIED_KMH = [10, 40, 75, 120, 150]
const DIAL_MAX_KMH = 150

/** A stage and what it multiplies by. */
function anyStages(draws: Draws) {
  const teeth = { driving: 4 + Math.floor(draws.even() * 6), driven: 12 + Math.floor(draws.even() * 12) }
  const ratio = { value: draws.between(3, 4.5), plusMinus: draws.oneOf([0, 0, draws.between(0, 0.04)]) }
  return {
    request: [
      { kind: 'final-drive', ratio },
      { kind: 'gear-pair', teeth },
    ],
    nominal: (ratio.value * teeth.driving) / teeth.driven,
    draw: (d: Draws) => (d.about(ratio.value, ratio.plusMinus) * teeth.driving) / teeth.driven,
  }
}

/** A head that is off by a few percent at most, with or without errors of its own, whose uncertainties may go together. */
function anyHead(draws: Draws, turnsPerKm: number) {
  const perKm = turnsPerKm * draws.between(0.93, 1.06)
  const constantPlusMinus = draws.oneOf([0, draws.between(0, 0.015) * perKm])
  const has = draws.even() < 0.5
  const scalePercent = has ? draws.between(-2, 2) : 0
  const scalePercentPlusMinus = has ? draws.between(0, 2) : 0
  const offset = has
    ? { kmh: draws.between(-2, 3), plusMinus: draws.between(0, 2) }
    : { kmh: 0, plusMinus: 0 }
  const correlation = has && scalePercentPlusMinus > 0 ? draws.between(-1, 1) : 0
  return {
    request: {
      input: 'turns',
      unit: 'kmh',
      constant: { perKm, plusMinus: constantPlusMinus },
      dialMax: { kmh: DIAL_MAX_KMH },
      ...(has ? { scalePercent, scalePercentPlusMinus, offset, correlation } : {}),
    },
    draw: (d: Draws) => {
      const [one, two] = has ? [d.normal(), d.normal()] : [0, 0]
      const other = correlation * one + Math.sqrt(1 - correlation ** 2) * two
      return {
        perKm: d.about(perKm, constantPlusMinus),
        scale: 1 + (scalePercent + (scalePercentPlusMinus / 2) * one) / 100,
        offsetKmh: offset.kmh + (offset.plusMinus / 2) * other,
      }
    },
  }
}

interface Measure {
  readonly kmh: number
  readonly plusMinus?: { readonly kmh: number }
}

/** What draws say of one path. */
interface Sample {
  readonly recorded: Float64Array
  readonly slope: Float64Array
  readonly offsetKmh: Float64Array
  readonly trueKmh: Float64Array
}

const shareOf = (count: number, of: (k: number) => boolean) => {
  let found = 0
  for (let k = 0; k < count; k++) if (of(k)) found++
  return found / count
}

const within = (rule: TextRule, y: number, v: number, at: number) =>
  y >= rule.lower(v) - 1e-9 && y <= rule.upper(v, at) + 1e-9

describe(`${PATHS} random drive paths, ${DRAWS} draws each`, () => {
  const wrong: unknown[] = []
  const covered: number[] = []
  let farthest = 0
  const near = (what: unknown, stated: number, drawn: number) => {
    farthest = Math.max(farthest, Math.abs(stated - drawn))
    if (Math.abs(stated - drawn) > NEAR) wrong.push([what, stated, drawn])
  }
  /** Coverage of an interval about a stated value; one of no width must be the value itself. */
  const covers = (what: unknown, value: number, plusMinus: number, drawn: (k: number) => number) => {
    const rounding = 1e-9 * Math.max(1, Math.abs(value))
    if (plusMinus <= rounding) {
      if (shareOf(DRAWS, (k) => Math.abs(drawn(k) - value) <= 1e3 * rounding) < 1)
        wrong.push([what, value, plusMinus])
      return
    }
    const share = shareOf(DRAWS, (k) => Math.abs(drawn(k) - value) <= plusMinus)
    covered.push(share)
    if (share < MIN_COVERED || share > MAX_COVERED) wrong.push([what, value, plusMinus, share])
  }

  test('probabilities and plusMinus are as stated', { timeout: 300_000 }, async () => {
    for (let path = 0; path < PATHS; path++) {
      const draws = new Draws(SEED + path)
      const tire = anyTire(draws)
      const stages = anyStages(draws)
      // The head is chosen by a first draw of the tire, so that it is off by some percent more.
      const head = anyHead(draws, (1e6 / tire.circumferenceMm(draws)) * stages.nominal)
      const atKmh = draws.oneOf([30, 50, 80, 110])
      const speedPlusMinus = draws.oneOf([0, 0, draws.between(0, 0.1) * atKmh])
      const request = {
        tire: tire.request,
        stages: stages.request,
        head: head.request,
        speeds: [{ kmh: atKmh, plusMinus: speedPlusMinus }],
        rules: TEXT_RULES.map(({ id }) => id),
      }
      const { status, body } = await post(app, '/v1/drive-paths/evaluation', request)
      expect(status, JSON.stringify(body)).toBe(200)

      const sample: Sample = {
        recorded: new Float64Array(DRAWS),
        slope: new Float64Array(DRAWS),
        offsetKmh: new Float64Array(DRAWS),
        trueKmh: new Float64Array(DRAWS),
      }
      for (let k = 0; k < DRAWS; k++) {
        const turnsPerKm = (1e6 / tire.circumferenceMm(draws)) * stages.draw(draws)
        const { perKm, scale, offsetKmh } = head.draw(draws)
        sample.recorded[k] = turnsPerKm / perKm
        sample.slope[k] = (turnsPerKm / perKm) * scale
        sample.offsetKmh[k] = offsetKmh
        sample.trueKmh[k] = draws.about(atKmh, speedPlusMinus)
      }
      const { recorded, slope, offsetKmh, trueKmh } = sample
      const shown = (k: number, v: number) => Math.max(0, slope[k]! * v + offsetKmh[k]!)
      const told = (what: string) => [path, what, JSON.stringify(request)]

      const [row] = body.table
      const measure = ({ kmh, plusMinus }: Measure) => [kmh, plusMinus?.kmh ?? 0] as const
      covers(told('indicated'), ...measure(row.indicated), (k) => shown(k, trueKmh[k]!))
      covers(told('error'), ...measure(row.error), (k) => shown(k, trueKmh[k]!) - trueKmh[k]!)
      const { value, plusMinus } = body.indicatedPerTrue
      covers(told('indicatedPerTrue'), value, plusMinus, (k) => slope[k]!)
      const odometer = [body.odometerErrorPercent, body.odometerErrorPlusMinusPercent] as const
      covers(told('odometer'), ...odometer, (k) => 100 * (recorded[k]! - 1))

      for (const rule of TEXT_RULES) {
        const ofRow = row.verdicts.find((one: { rule: string }) => one.rule === rule.id)
        near(
          told(`${rule.id} at ${atKmh}`),
          ofRow.probability,
          shareOf(DRAWS, (k) => within(rule, shown(k, trueKmh[k]!), trueKmh[k]!, atKmh)),
        )
        const whole = body.verdicts.find((one: { rule: string }) => one.rule === rule.id)
        const { distanceFraction } = rule
        if (distanceFraction !== undefined) {
          const isWithin = (k: number) => Math.abs(recorded[k]! - 1) <= distanceFraction + 1e-9
          near(told(`${rule.id}, distance`), whole.distance.probability, shareOf(DRAWS, isWithin))
        }
        const at = (v: number) => shareOf(DRAWS, (k) => within(rule, shown(k, v), v, v))
        if (whole.at !== undefined) near(told(`${rule.id}, worst speed`), whole.probability, at(whole.at.kmh))
        if (whole.probability <= NEAR) continue
        for (const v of TRIED_KMH)
          if (at(v) < whole.probability - NEAR)
            wrong.push([told(`${rule.id} is worse at ${v}`), whole, at(v)])
      }
    }
    covered.sort((a, b) => a - b)
    const told = { farthest, least: covered[0], most: covered.at(-1), intervals: covered.length }
    process.stdout.write(`${JSON.stringify(told)}\n`)
    expect({ wrong: wrong.slice(0, 5), of: wrong.length, told }).toMatchObject({ wrong: [], of: 0 })
  })
})
