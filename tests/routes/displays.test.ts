import { afterAll, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'

const app = await testApp()
afterAll(() => app.close())

const BODY = {
  display: { luminance: { cdPerM2: 800 }, unlitLuminance: { cdPerM2: 8 }, reflectance: 0.25 },
  filters: [{ name: 'quarter', transmittance: { value: 0.25, plusMinus: 0.01 } }],
  surfaceReflectance: 0.005,
  day: { illuminance: { lx: 20_106.19298 } },
  character: { height: { mm: 10 }, distance: { m: 0.75 } },
}

// 20 106 lx is 6400π: 1600 cd/m2 behind the filter, 32 by its front; (200 + 100 + 32)/(2 + 100 + 32).
test('800 cd/m2 behind a filter of a quarter in 20,106 lx has a contrast ratio of 332/134', async () => {
  const { status, body } = await post(app, '/v1/displays/legibility', BODY)
  expect(status).toBe(200)
  expect(body.filters[0].contrastRatio.value).toBeCloseTo(332 / 134, 6)
  expect(body.filters[0].litLuminance.cdPerM2).toBeCloseTo(332, 4)
  // 2 arctan(10/1500) in minutes of arc.
  expect(body.character.angle.arcmin).toBeCloseTo((Math.atan(10 / 1500) * 2 * 10_800) / Math.PI, 9)
  expect(body.budget).toEqual([{ input: 'filter 1: transmittance', sharePercent: 100 }])
})

test('bad input is refused by name', async () => {
  const bright = { ...BODY, display: { ...BODY.display, unlitLuminance: { cdPerM2: 900 } } }
  const crossed = await post(app, '/v1/displays/legibility', bright)
  expect([crossed.status, crossed.body.code, crossed.body.errors[0].pointer]).toEqual([
    422,
    'limits-crossed',
    '#/display/unlitLuminance',
  ])
  const opaque = { ...BODY, filters: [{ name: 'opaque', transmittance: 0 }] }
  const { status, body } = await post(app, '/v1/displays/legibility', opaque)
  expect([status, body.errors[0].pointer]).toEqual([400, '#/filters/0/transmittance'])
})
