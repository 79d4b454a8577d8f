import { createServer, request } from 'node:http'
import type { AddressInfo } from 'node:net'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { type TestApp, testApp } from '../support/app.js'
import { describeInBrowser, expectAccessible, expectNoOverflow, useBrowser } from '../support/browser.js'
import { checkExample } from '../support/home-page.js'

describeInBrowser('GET /reference in a browser', () => {
  const open = useBrowser()
  let app: TestApp
  let address: string

  beforeAll(async () => {
    app = await testApp()
    address = await app.listen({ host: '127.0.0.1', port: 0 })
  })
  afterAll(() => app.close())

  test('leads from the index to an operation, to an object in it, and back to its subject', async () => {
    const { page, faults } = await open(`${address}/reference`)
    await page.click('text=Check a vehicle from wheel to dial')
    await page.waitForURL(`${address}/reference/checkVehicle`)
    expect(await page.title()).toBe('Check a vehicle from wheel to dial · wheel-to-dial')
    await page.click('text=VehicleProfile')
    await page.waitForURL(`${address}/reference/checkVehicle#object-VehicleProfile`)
    await page.click('nav >> text=vehicle-checks')
    await page.waitForURL(`${address}/reference#vehicle-checks`)
    expect(faults).toEqual([])
  })

  test('needs no script', async () => {
    const { page } = await open(`${address}/reference/checkVehicle`, { javaScriptEnabled: false })
    expect(await page.locator('#object-VehicleProfile').isVisible()).toBe(true)
  })

  test('works behind a proxy with a path prefix, and so does the form', async () => {
    const proxy = createServer((incoming, outgoing) => {
      const { method, headers, url = '' } = incoming
      if (!url.startsWith('/tools/w2d/')) return outgoing.writeHead(404).end()
      const onward = request(`${address}${url.slice('/tools/w2d'.length)}`, { method, headers }, (answer) => {
        outgoing.writeHead(answer.statusCode!, answer.headers)
        answer.pipe(outgoing)
      })
      return incoming.pipe(onward)
    })
    await new Promise<void>((resolve) => proxy.listen(0, '127.0.0.1', resolve))
    const below = `http://127.0.0.1:${(proxy.address() as AddressInfo).port}/tools/w2d/`
    try {
      const { page, faults } = await open(`${below}reference`)
      await page.click('text=Check a vehicle from wheel to dial')
      await page.waitForURL(`${below}reference/checkVehicle`)
      // The style sheet has arrived: the body has the width that it sets.
      expect(await page.evaluate('getComputedStyle(document.body).maxWidth')).toBe('864px')
      await page.click('text=Check a car')
      await page.waitForURL(below)
      await checkExample(page)
      expect(faults).toEqual([])
    } finally {
      proxy.closeAllConnections()
      proxy.close()
    }
  })

  // An operation with many objects, one with tables and media types other than JSON, one with parameters only.
  test.each(
    ['', '/checkVehicle', '/measureTrack', '/listParts'].flatMap((path) => [
      [path, 320] as const,
      [path, 1200] as const,
    ]),
  )('/reference%s at %i px: axe finds nothing, and nothing sticks out', async (path, width) => {
    const { page, faults } = await open(`${address}/reference${path}`, { viewport: { width, height: 800 } })
    for (const summary of await page.locator('summary').all()) await summary.click()
    await expectNoOverflow(page)
    await expectAccessible(page)
    expect(faults).toEqual([])
  })
})
