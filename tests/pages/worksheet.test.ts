import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type TestApp, testApp } from '../support/app.js'
import { describeInBrowser, expectAccessible, expectNoOverflow, useBrowser } from '../support/browser.js'

const folder = join(import.meta.dirname, '../../examples/vehicles')

describeInBrowser('the worksheet as a page', () => {
  const open = useBrowser()
  let app: TestApp
  let address: string

  beforeAll(async () => {
    app = await testApp()
    address = await app.listen({ host: '127.0.0.1', port: 0 })
  })
  afterAll(() => app.close())

  describe.each(readdirSync(folder))('of %s', (file) => {
    test.each([320, 1200])('axe finds nothing at %i px, and nothing sticks out', async (width) => {
      const response = await app.inject({
        method: 'POST',
        url: '/v1/vehicle-checks/worksheet',
        headers: { 'content-type': 'application/json', accept: 'text/html' },
        payload: readFileSync(join(folder, file)),
      })
      expect(response.statusCode).toBe(200)
      const { page, faults } = await open(`${address}/v1/units`, { viewport: { width, height: 800 } })
      await page.setContent(response.body)
      await expectAccessible(page)
      if (width === 320) await expectNoOverflow(page)
      expect(faults).toEqual([])
    })
  })
})
