import { describe, expect, test } from 'vitest'
import { windingAt, windingChecks } from '../../../src/domain/gauges/motor-winding.js'
import { exact, uncertain } from '../../../src/domain/measure/figure.js'

const CELSIUS = 273.15

describe('a winding of 10 ohm at 20 °C and 20 K/W', () => {
  const winding = { resistanceOhm: exact(10), thermalResistanceKPerW: exact(20) }

  // T - 20 = 20 · 0.3² · 10 · (1 + 0.00393 · (T - 20)) = 18/(1 - 0.07074) = 19.3702
  test('0.3 A heat it by 19.37 K above 20 °C', () => {
    const { temperatureK, resistanceOhm } = windingAt(winding, exact(0.3), exact(CELSIUS + 20))
    expect(temperatureK!.value - CELSIUS).toBeCloseTo(20 + 18 / (1 - 0.07074), 6)
    expect(resistanceOhm.value).toBeCloseTo(10 * (1 + (0.00393 * 18) / (1 - 0.07074)), 6)
  })

  // IEC 60034-1 (from memory): R₂/R₁ = (235 + t₂)/(235 + t₁) for copper.
  test('its resistance rises from 20 to 105 °C by the ratio of the standard of rotating machines', () => {
    const { resistanceOhm } = windingAt({ resistanceOhm: exact(10) }, exact(0), exact(CELSIUS + 105))
    expect(Math.abs(resistanceOhm.value / 10 - (235 + 105) / (235 + 20))).toBeLessThan(1e-3)
  })

  test('without steady temperature it keeps that of its surroundings, and the check does not conform', () => {
    const found = windingAt(winding, exact(1.2), exact(CELSIUS + 20))
    expect(found.temperatureK).toBeUndefined()
    expect(found.resistanceOhm.value).toBeCloseTo(10, 9)
    expect(windingChecks(winding, '/motors/0/thermalResistance', undefined)).toMatchObject([
      { probability: 0, result: 'does-not-conform' },
    ])
  })
})

test('the limit is 105 °C, and another where given', () => {
  const winding = { resistanceOhm: exact(10), thermalResistanceKPerW: exact(20) }
  const result = (celsius: number, max?: number) =>
    windingChecks(
      max === undefined ? winding : { ...winding, maxTemperatureK: CELSIUS + max },
      '/motors/0/thermalResistance',
      uncertain(CELSIUS + celsius, 'T', 1),
    )[0]!.result
  expect([result(103), result(105), result(107), result(107, 130)]).toEqual([
    'conforms',
    'not-proven',
    'does-not-conform',
    'conforms',
  ])
})

test('a winding without thermal resistance is not checked', () => {
  expect(windingChecks({ resistanceOhm: exact(10) }, '/motors/0/thermalResistance', undefined)).toEqual([])
})
