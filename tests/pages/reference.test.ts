import { readFileSync } from 'node:fs'
import { createServer, request } from 'node:http'
import type { AddressInfo } from 'node:net'
import type { Page } from 'playwright-core'
import { afterAll, beforeAll, expect, test, vi } from 'vitest'
import { keyOf, type TestApp, testAppWithStore } from '../support/app.js'
import { describeInBrowser, expectAccessible, expectNoOverflow, useBrowser } from '../support/browser.js'
import { operations, readOpenApi } from '../support/contract.js'
import { checkExample } from '../support/home-page.js'

describeInBrowser('GET /reference in a browser', () => {
  const open = useBrowser()
  let app: TestApp
  let address: string
  let key: string

  beforeAll(async () => {
    const made = await testAppWithStore()
    app = made.app
    key = (await keyOf(made.store, 'main')).secret
    address = await app.listen({ host: '127.0.0.1', port: 0 })
  })
  afterAll(() => app.close())

  test('shows every operation of the document, under our own title, without the maker of the tool', async () => {
    const { page, faults } = await open(`${address}/reference`)
    await page.waitForSelector('.opblock')
    const shown = await page.locator('.opblock .opblock-summary-path').count()
    expect(shown).toBe(operations(readOpenApi()).length)
    expect(await page.title()).toBe('Reference · wheel-to-dial')
    expect(await page.locator('h1').allTextContents()).toEqual([expect.stringMatching(/^wheel-to-dial/)])
    expect(await page.locator('.topbar').count()).toBe(0)
    expect(await page.textContent('body')).not.toMatch(/swagger|smartbear/i)
    expect(faults).toEqual([])
  })

  test('tries an operation on this service, and shows its answer', async () => {
    const { page, faults } = await open(`${address}/reference#/vehicle-checks/checkVehicle`)
    await page.click('.try-out__btn')
    await page.click('.execute')
    await page.waitForSelector('.live-responses-table .response-col_status:has-text("200")')
    expect(await page.textContent('.live-responses-table')).toContain('indicatedPerTrue')
    expect(await page.textContent('.request-url')).toContain(`${address}/v1/vehicle-checks`)
    expect(faults).toEqual([])
  })

  test('finds operations by words in their name, path or description, in any order', async () => {
    const { page, faults } = await open(`${address}/reference`)
    await page.waitForSelector('.opblock')
    const find = page.getByRole('textbox', { name: 'Find operations' })
    const paths = () => page.locator('.opblock-summary-path').allInnerTexts()
    for (const [words, expected] of [
      ['computeRollout', ['/v1/tires/rollout']],
      ['tires post ROLLOUT', ['/v1/tires/rollout']],
      ['checkSavedVehicles', ['/v1/vehicles/checks']],
      ['wheel to dial', ['/v1/vehicle-checks']],
      ['nothing has this', []],
    ] as const) {
      await find.fill(words)
      await vi.waitFor(async () => {
        const shown = (await paths()).map((path) => path.replaceAll('\u200b', ''))
        if (expected.length === 0) expect(shown).toEqual([])
        else expect(shown).toEqual(expect.arrayContaining([...expected]))
        expect(shown.length).toBeLessThan(5)
      }, 20_000)
    }
    await find.fill('')
    await vi.waitFor(
      async () => expect((await paths()).length).toBe(operations(readOpenApi()).length),
      20_000,
    )
    expect(faults).toEqual([])
  })

  /** Opens an operation, makes ready to try it, and sends it. */
  async function send(page: Page, { body, accept, query = {} }: Trial) {
    await page.click('.try-out__btn')
    if (body) await page.selectOption('.opblock-section-request-body .content-type', body)
    for (const [name, value] of Object.entries(query))
      await page.fill(`tr[data-param-name=${name}] input`, value)
    if (accept) await page.selectOption('.response-control-media-type--accept-controller select', accept)
    await page.click('.execute')
    await page.waitForSelector('.live-responses-table .response-col_status')
  }

  interface Trial {
    readonly body?: string
    readonly accept?: string
    readonly query?: Record<string, string>
  }

  const TRIALS: ReadonlyArray<readonly [operation: string, trial: Trial, answer: RegExp]> = [
    [
      'vehicle-checks/checkVehicles',
      { body: 'application/x-ndjson', accept: 'application/x-ndjson' },
      /"ok":true[\s\S]*"complete":true/,
    ],
    ['odometers/measureTrack', { body: 'application/gpx+xml' }, /"length"/],
    ['signals/analyzeLog', { body: 'text/csv', query: { pulsesPerTurn: '4' } }, /"pulses": 60/],
  ]
  test.each(TRIALS)('%s accepts its example unchanged', async (operation, trial, answer) => {
    const { page, faults } = await open(`${address}/reference#/${operation}`)
    await send(page, trial)
    expect(await page.textContent('.live-responses-table tbody .response-col_status')).toContain('200')
    const said = await page.textContent('.live-responses-table')
    expect(said).toMatch(answer)
    expect(said).not.toContain("can't parse")
    expect(faults).toEqual([])
  })

  test('saves a PDF unchanged', async () => {
    const { page, faults } = await open(`${address}/reference#/vehicle-checks/makeWorksheet`)
    await send(page, { accept: 'application/pdf' })
    const download = page.waitForEvent('download')
    await page.getByText('Save the PDF').click()
    const bytes = readFileSync(await (await download).path())
    const [, length] = /content-length: (\d+)/.exec((await page.textContent('.live-responses-table'))!)!
    expect(bytes.subarray(0, 5).toString()).toBe('%PDF-')
    expect(bytes.length).toBe(Number(length))
    expect(faults).toEqual([])
  })

  test('with a key it saves a vehicle, reads it by its id, and deletes it', async () => {
    const { page, faults } = await open(`${address}/reference#/vehicles/createVehicle`)
    await page.click('.btn.authorize')
    await page.fill('.auth-container input', key)
    await page.click('.auth-btn-wrapper .authorize')
    await page.click('.auth-btn-wrapper .btn-done')
    await send(page, {})
    const made = page.locator('#operations-vehicles-createVehicle .live-responses-table')
    const [, id] = /"id": "([^"]+)"/.exec((await made.textContent())!)!
    for (const [operation, fields, status] of [
      ['getVehicle', { id: id! }, '200'],
      ['deleteVehicle', { id: id!, 'if-match': '*' }, '204'],
    ] as const) {
      const block = page.locator(`#operations-vehicles-${operation}`)
      await block.locator('.opblock-summary-control').click()
      await block.locator('.try-out__btn').click()
      for (const [name, value] of Object.entries(fields))
        await block.locator(`tr[data-param-name="${name}"] input`).fill(value)
      await block.locator('.execute').click()
      await block.locator(`.live-responses-table .response-col_status:has-text("${status}")`).waitFor()
    }
    expect(faults).toEqual([])
  })

  test('behind a proxy with a path prefix, it sends requests with that prefix', async () => {
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
      const { page, faults } = await open(`${below}reference#/vehicle-checks/checkVehicle`)
      await send(page, {})
      expect(await page.textContent('.request-url')).toContain(`${below}v1/vehicle-checks`)
      expect(await page.textContent('.live-responses-table tbody .response-col_status')).toContain('200')
      await page.goto(below)
      await checkExample(page)
      expect(faults).toEqual([])
    } finally {
      proxy.closeAllConnections()
      proxy.close()
    }
  })

  test('at 320 px nothing sticks out: neither the list nor an operation with its answer', async () => {
    const { page } = await open(`${address}/reference#/vehicle-checks/checkVehicle`, {
      viewport: { width: 320, height: 800 },
    })
    await expectNoOverflow(page)
    await send(page, {})
    await expectNoOverflow(page)
  })

  test.each([320, 1200])('at %i px axe finds only known issues of the tool', async (width) => {
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
