import { afterAll, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'
import { Draws } from './draws.js'
import { anyTire } from './tires.js'

const app = await testApp()
afterAll(() => app.close())

const PAIRS = 40
const DRAWS = 100_000

test('the uncertainty of a tire change is as stated', { timeout: 300_000 }, async () => {
  const wrong: unknown[] = []
  for (let pair = 0; pair < PAIRS; pair++) {
    const draws = new Draws(7_000_000 + pair)
    const [fitted, calibratedFor] = [anyTire(draws), anyTire(draws)]
    // A head that brings the pair near to true, so that the rules are uncertain.
    const scale =
      (fitted.circumferenceMm(draws) / calibratedFor.circumferenceMm(draws)) * draws.between(0.98, 1.04)
    const scalePercent = (scale - 1) * 100
    const request = {
      fitted: fitted.request,
      calibratedFor: calibratedFor.request,
      head: { scalePercent },
      speeds: [{ kmh: 80 }],
      rules: ['un-r39', 'de-odometer'],
    }
    const { status, body } = await post(app, '/v1/gauges/error', request)
    expect(status, JSON.stringify(body)).toBe(200)
    const { value, plusMinus } = body.indicatedPerTrue
    const [ofSpeed, ofDistance] = body.verdicts
    const found = { covered: 0, speed: 0, distance: 0 }
    for (let k = 0; k < DRAWS; k++) {
      const recorded = calibratedFor.circumferenceMm(draws) / fitted.circumferenceMm(draws)
      const shown = recorded * scale
      if (Math.abs(shown - value) <= plusMinus) found.covered++
      // UN R39 at its worst speed: at least true, at most 10 % and 4 km/h over from 40 km/h up.
      const v = ofSpeed.at.kmh
      if (shown >= 1 && (v < 40 || shown * v <= 1.1 * v + 4)) found.speed++
      if (Math.abs(recorded - 1) <= 0.04) found.distance++
    }
    const told = [pair, JSON.stringify(request), body.indicatedPerTrue, body.verdicts, found]
    const covered = found.covered / DRAWS
    if (covered < 0.93 || covered > 0.99) wrong.push(['covered', covered, told])
    for (const [what, stated, drawn] of [
      ['speed', ofSpeed.probability, found.speed / DRAWS],
      ['distance', ofDistance.probability, found.distance / DRAWS],
    ] as const)
      if (Math.abs(stated - drawn) > 0.01) wrong.push([what, stated, drawn, told])
  }
  expect({ of: wrong.length, wrong: wrong.slice(0, 3) }).toEqual({ of: 0, wrong: [] })
})
