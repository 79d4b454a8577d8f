import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { solveStages } from '../../../src/domain/drive-paths/solve.js'
import { tableRule } from '../../../src/domain/gauges/verdicts.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { tireGeometry } from '../../../src/domain/tires/geometry.js'
import { slopesWithinAim } from '../../../src/domain/vehicles/aim.js'
import { computedChanges } from '../../../src/domain/vehicles/changes.js'
import { evaluateVehiclePath } from '../../../src/domain/vehicles/evaluate.js'
import { vehicleRemedies } from '../../../src/domain/vehicles/remedies.js'
import type { Vehicle, VehiclePath } from '../../../src/domain/vehicles/vehicle.js'
import { EXAMPLE_VEHICLE } from '../../support/example-vehicle.js'

const [PATH] = EXAMPLE_VEHICLE.paths as [VehiclePath]

const cars = fc
  .record({
    turnsPerM: fc.double({ min: 0.42, max: 0.56, noNaN: true }),
    share: fc.constantFrom(0, 0.004, 0.02),
    offset: fc.constantFrom(0, -1, 0.6, 2.5),
    uOffset: fc.constantFrom(0, 0.2),
    rule: fc.constantFrom('un-r39', 'au-adr-18-03', 'de-before-1991', 'recording-in-use', 'us-49-cfr-393-82'),
  })
  .map(({ turnsPerM, share, offset, uOffset, rule }): Vehicle => {
    const tire = tireGeometry({ turnsPerM: uncertain(turnsPerM, 'tire', turnsPerM * share) })
    const offsetMPerS = uncertain(offset, 'head: offset', uOffset)
    const head = { ...PATH.head, offsetMPerS, dialMaxMPerS: 45 }
    return {
      ...EXAMPLE_VEHICLE,
      tires: { front: tire, rear: tire },
      paths: [{ ...PATH, head }],
      rule: tableRule(rule as 'un-r39'),
    }
  })

describe('vehicleRemedies(vehicle, evaluated)', () => {
  test('states for each remedy what the evaluation of the changed vehicle answers', () => {
    fc.assert(
      fc.property(cars, (vehicle) => {
        for (const remedy of vehicleRemedies(vehicle, [evaluateVehiclePath(vehicle, 0)])) {
          const { path, tire, line, verdict } = remedy
          const tires = tire === undefined ? vehicle.tires : { ...vehicle.tires, [path.axle]: tire }
          const after = evaluateVehiclePath({ ...vehicle, tires, paths: [path] }, 0)
          expect({ line, verdict }).toEqual({ line: after.line, verdict: after.verdict })
        }
      }),
      { numRuns: 60 },
    )
  })
})

describe('computedChanges(evaluated)', () => {
  test('finds the driven gears beside the target that a search of all counts finds', () => {
    const gears = fc.record({
      driving: fc.integer({ min: 3, max: 20 }),
      driven: fc.integer({ min: 8, max: 40 }),
    })
    fc.assert(
      fc.property(cars, gears, fc.double({ min: 0.7, max: 1.4, noNaN: true }), (vehicle, teeth, slope) => {
        const stage = {
          kind: 'gear-pair',
          name: 'pair',
          ratio: exact(teeth.driving / teeth.driven),
          teeth,
        } as const
        const evaluated = evaluateVehiclePath(
          { ...vehicle, paths: [{ ...vehicle.paths[0]!, stages: [stage] }] },
          0,
        )
        const line = { ...evaluated.line, indicatedPerTrue: uncertain(slope, 'slope', slope * 0.01) }
        const found = computedChanges({ ...evaluated, line })
          .filter(({ action }) => action === 'change-driven-gear')
          .map((change) => change.stage!.teeth!.driven)
        const { min, max } = slopesWithinAim(line, evaluated.frame.judgedMPerS)
        const driven = Array.from({ length: 13 }, (_, step) => teeth.driven - 6 + step)
        const { solutions } = solveStages(
          teeth.driving / teeth.driven / slope,
          [
            {
              driving: [teeth.driving],
              driven: driven.filter((count) => count >= 5 && count !== teeth.driven),
            },
          ],
          { minFraction: min - 1, maxFraction: max - 1 },
          2,
        )
        expect(found).toEqual(solutions.map(({ choices }) => choices[0]!.denominator))
      }),
    )
  })
})
