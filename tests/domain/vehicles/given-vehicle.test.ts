import { describe, expect, test } from 'vitest'
import { correlation } from '../../../src/domain/measure/correlation.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'
import { product } from '../../../src/domain/measure/propagation.js'
import { standardUncertainty } from '../../../src/domain/measure/uncertainty.js'
import { builtInSizes } from '../../../src/domain/tires/size-table.js'
import { type GivenPath, type GivenVehicle, vehicleOf } from '../../../src/domain/vehicles/given-vehicle.js'

const tire = { turnsPerM: exact(0.5) }

const path = (more: Partial<GivenPath> = {}): GivenPath => ({
  name: 'speedometer',
  axle: 'rear',
  stages: [],
  head: { input: 'turns', constantPerM: uncertain(0.5, 'head: constant', 0.01), unit: 'kmh' },
  ...more,
})

const vehicle = (paths: readonly GivenPath[], more: Partial<GivenVehicle> = {}) =>
  vehicleOf(
    { name: 'Quillock', tires: { front: tire, rear: tire }, paths, rule: 'un-r39', ...more },
    builtInSizes,
  )

describe('vehicleOf(given, table)', () => {
  test('keeps the heads of two paths independent', () => {
    const { paths } = vehicle([path(), path({ name: 'recorder' })])
    const [one, other] = paths.map(({ head }) => head.constantPerM)
    // JCGM 100:2008, 5.1.6: 2 % and 2 % in quadrature; of one input it would be 4 %.
    expect(standardUncertainty(product(one!, other!)) / 0.25).toBeCloseTo(0.02 * Math.SQRT2, 12)
  })

  test('correlates a measured offset with the measured slope', () => {
    const measured = {
      indicatedPerTrue: uncertain(1.05, 'slope', 0.01),
      offsetMPerS: uncertain(0.5, 'offset', 0.1),
      correlation: -0.6,
    }
    const { indicatedPerTrue, offsetMPerS } = vehicle([path({ measured })]).paths[0]!.measured!
    expect(correlation(indicatedPerTrue!, offsetMPerS!)).toBeCloseTo(-0.6, 12)
  })

  test('counts a median of 3 and a mean of 4 as 6 averaged periods', () => {
    const filter = { median: 3, movingAverage: 4, factor: 0.5 } as const
    // A mean of 4 medians of 3 sees 4 + 3 - 1 periods.
    expect(vehicle([path({ pulse: { zeroTimeoutS: 1, filter } })]).paths[0]!.pulse).toEqual({
      zeroTimeoutS: 1,
      averagedPeriods: 6,
      smoothingFactor: 0.5,
    })
  })

  test('takes the price of an hour out of the costs by action', () => {
    const { costs, pricePerHour } = vehicle([path()], {
      costs: { pricePerHour: 80, 'change-driven-gear': { price: 30 } },
    })
    expect(pricePerHour).toBe(80)
    expect(costs).toEqual({ 'change-driven-gear': { price: 30 } })
  })

  test('points at what is wrong in the profile', () => {
    const at = (pointer: string) => expect.objectContaining({ context: expect.objectContaining({ pointer }) })
    const filter = { factor: 2 }
    expect(() => vehicle([path(), path({ pulse: { filter } })])).toThrow(at('/paths/1/pulse/filter/factor'))
    expect(() => vehicle([path()], { rule: 'us-49-usc-32703' })).toThrow(at('/rule'))
    const worn = { size: '175/70R13', wearM: exact(0.03) }
    expect(() => vehicle([path()], { tires: { front: worn, rear: tire } })).toThrow(at('/tires/front/wear'))
  })
})
