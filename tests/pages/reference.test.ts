import { afterAll, beforeAll, expect, test } from 'vitest'
import { type TestApp, testApp } from '../support/app.js'
import { describeInBrowser, expectAccessible, useBrowser } from '../support/browser.js'
import { operations, readOpenApi } from '../support/contract.js'

describeInBrowser('GET /reference in a browser', () => {
  const open = useBrowser()
  let app: TestApp
  let address: string

  beforeAll(async () => {
    app = await testApp()
    address = await app.listen({ host: '127.0.0.1', port: 0 })
  })
  afterAll(() => app.close())

  test('shows every operation of the document, under our own title, without the maker of the tool', async () => {
    const { page, faults } = await open(`${address}/reference`)
    await page.waitForSelector('.opblock-tag')
    for (const tag of await page.locator('.opblock-tag').all()) await tag.click()
    const shown = await page.locator('.opblock .opblock-summary-path').count()
    expect(shown).toBe(operations(readOpenApi()).length)
    expect(await page.title()).toBe('Reference · wheel-to-dial')
    expect(await page.locator('h1').allTextContents()).toEqual([expect.stringMatching(/^wheel-to-dial/)])
    expect(await page.locator('.topbar').count()).toBe(0)
    expect(await page.textContent('body')).not.toMatch(/swagger|smartbear/i)
    expect(faults).toEqual([])
  })

  test('tries an operation on this instance, and shows its answer', async () => {
    const { page, faults } = await open(`${address}/reference#/vehicle-checks/checkVehicle`)
    await page.click('.try-out__btn')
    await page.click('.execute')
    await page.waitForSelector('.live-responses-table .response-col_status:has-text("200")')
    expect(await page.textContent('.live-responses-table')).toContain('indicatedPerTrue')
    expect(await page.textContent('.request-url')).toContain(`${address}/v1/vehicle-checks`)
    expect(faults).toEqual([])
  })

  test.each([320, 1200])('at %i px axe finds nothing but what the tool itself leaves', async (width) => {
    const { page, faults } = await open(`${address}/reference#/vehicle-checks/checkVehicle`, {
      viewport: { width, height: 800 },
    })
    await page.click('.try-out__btn')
    await page.click('.execute')
    await page.waitForSelector('.live-responses-table')
    // The tool nests the buttons of an operation in its clickable summary, goes from h1 to h3, and puts nothing but the
    // operations into its main: its own markup, which a style sheet cannot mend.
    await expectAccessible(page, ['nested-interactive', 'heading-order', 'region'])
    expect(faults).toEqual([])
  })
})
