import { expect, test } from 'vitest'
import { motorSpeedPerS } from '../../../src/domain/gauges/driven-head.js'
import { exact } from '../../../src/domain/measure/figure.js'
import { MILE_M, toSi } from '../../../src/domain/measure/units.js'

const rpmAt = (turnsPerMile: number, mph: number) =>
  60 * motorSpeedPerS({ motorTurnsPerM: exact(turnsPerMile / MILE_M) }, toSi('speed', 'mph', mph)).value

// TM 9-1829A: 1000 turns a mile is 60 mph at 1000 rpm.
test('a head of 1000 turns a mile shows 60 mph at 1000 rpm', () => {
  expect(rpmAt(1000, 60)).toBeCloseTo(1000, 9)
})

// 1408 · 100/60.
test('a head of 1408 turns a mile needs 2,347 rpm at 100 mph', () => {
  expect(rpmAt(1408, 100)).toBeCloseTo(2346.6667, 3)
})
