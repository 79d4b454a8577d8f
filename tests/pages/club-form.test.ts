import { readFileSync } from 'node:fs'
import { createServer } from 'node:http'
import type { AddressInfo } from 'node:net'
import { join } from 'node:path'
import type { Page } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { type TestApp, testApp } from '../support/app.js'
import { describeInBrowser, expectAccessible, expectNoOverflow, useBrowser } from '../support/browser.js'

const html = readFileSync(join(import.meta.dirname, '../../examples/club-form.html'), 'utf8')

test('the form is short enough to be read before it is copied', () => {
  expect(html.trimEnd().split('\n').length).toBeLessThan(120)
})

describeInBrowser('examples/club-form.html, served from the website of the club', () => {
  const open = useBrowser()
  let app: TestApp
  let api: string
  let preflights: string[]
  // Both serve the form with the one line edited that a club edits; the service knows only the first.
  const club = createServer((_request, response) => respond(response))
  const stranger = createServer((_request, response) => respond(response))
  const respond = (response: import('node:http').ServerResponse) =>
    response
      .setHeader('content-type', 'text/html; charset=utf-8')
      .end(html.replace('http://127.0.0.1:8080', api))
  const originOf = (server: typeof club) => `http://127.0.0.1:${(server.address() as AddressInfo).port}`

  beforeAll(async () => {
    for (const server of [club, stranger]) {
      await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
    }
    app = await testApp({ CORS_ORIGINS: originOf(club) })
    preflights = []
    app.addHook('onRequest', (request, _reply, done) => {
      if (request.method === 'OPTIONS') preflights.push(String(request.headers.origin))
      done()
    })
    api = await app.listen({ host: '127.0.0.1', port: 0 })
  })
  afterAll(async () => {
    for (const server of [club, stranger]) {
      server.closeAllConnections()
      server.close()
    }
    await app.close()
  })

  const openForm = (server: typeof club) => open(`${originOf(server)}/`, {}, [originOf(server), api])

  async function fill(page: Page, values: Record<string, string>) {
    for (const [name, value] of Object.entries(values)) await page.fill(`[name=${name}]`, value)
    await page.click('button')
  }

  const GOOD = { size: '175/70R13', ring: '37', pinion: '9', driving: '6', driven: '20', constant: '1000' }

  const cellsOf = async (page: Page) => {
    const rows = await page.locator('#answer tr').all()
    return Promise.all(rows.map((row) => row.locator('th, td').allInnerTexts()))
  }

  test('shows verdict, plot, table, findings and remedies, after a CORS preflight', async () => {
    const { page, faults } = await openForm(club)
    const request = page.waitForRequest((one) => one.method() === 'POST')
    await fill(page, GOOD)
    const payload = (await request).postData()!
    const checked = await app.inject({
      method: 'POST',
      url: '/v1/vehicle-checks/worksheet',
      headers: { 'content-type': 'application/json' },
      payload,
    })
    expect(JSON.parse(payload).paths[0].stages[1].teeth).toEqual({ driving: 6, driven: 20 })
    const { paths, findings, remedies } = checked.json()
    expect(paths[0].verdicts[0].result).toBe('not-proven')
    await page.waitForSelector('#answer h2')
    expect(await page.textContent('#answer h2')).toBe('Not proven under UN Regulation No. 39')
    const said = await page.textContent('#answer')
    for (const { text } of [...findings, ...remedies.slice(0, 3)]) expect(said).toContain(text)
    expect(preflights).toContain(originOf(club))
    const plot = page.locator('#answer img')
    expect(decodeURIComponent((await plot.getAttribute('src'))!)).toBe(`data:image/svg+xml,${paths[0].plot}`)
    await expect.poll(() => plot.evaluate((image: HTMLImageElement) => image.naturalWidth)).toBeGreaterThan(0)
    const [head, ...rows] = await cellsOf(page)
    expect(head).toEqual(['True mph', 'Dial', '±', 'Error %'])
    expect(rows).toHaveLength(paths[0].table.length)
    // 175/70R13: 13 x 25.4 + 2 x 122.5 mm, rolling 3.05 of it; 1609344 mm a mile by 37/9 and 6/20 of 1000 turns.
    const slope = ((1_609_344 / (3.05 * (13 * 25.4 + 2 * 175 * 0.7))) * 37 * 6) / 9 / 20 / 1000
    for (const [speed, shown, , error] of rows) {
      expect(Math.abs(Number(shown) - Number(speed) * slope)).toBeLessThanOrEqual(0.0501)
      expect(Math.abs(Number(error) - 100 * (slope - 1))).toBeLessThanOrEqual(0.0501)
    }
    await expectAccessible(page)
    await page.setViewportSize({ width: 320, height: 640 })
    await expectNoOverflow(page)
    expect(faults).toEqual([])
  })

  test('takes a dial in km/h with its turns per kilometer, and the speeds to show', async () => {
    const { page, faults } = await openForm(club)
    await page.selectOption('[name=unit]', 'kmh')
    // 1000 turns a mile are 621.371 a kilometer.
    await fill(page, { ...GOOD, constant: '621.371192', speeds: ' 30  50, 62.5 ' })
    await page.waitForSelector('#answer table')
    const [head, ...rows] = await cellsOf(page)
    expect(head![0]).toBe('True km/h')
    expect(rows.map(([speed]) => speed)).toEqual(['30.0', '50.0', '62.5'])
    const slope = ((1_609_344 / (3.05 * (13 * 25.4 + 2 * 175 * 0.7))) * 37 * 6) / 9 / 20 / 1000
    for (const [speed, shown] of rows)
      expect(Math.abs(Number(shown) - Number(speed) * slope)).toBeLessThanOrEqual(0.0501)
    await fill(page, { speeds: '30 fast' })
    await page.waitForSelector('#speeds-fault')
    expect(await page.textContent('#speeds-fault')).toContain('fast')
    expect(faults).toEqual([])
  })

  test('shows each error at its field, and focuses the first', async () => {
    const { page, faults } = await openForm(club)
    await fill(page, { ...GOOD, size: '175/70R13', pinion: '0', driven: 'twenty', constant: '' })
    await page.waitForSelector('.fault')
    for (const name of ['pinion', 'driven', 'constant']) {
      expect(await page.getAttribute(`[name=${name}]`, 'aria-invalid')).toBe('true')
      expect(await page.getAttribute(`[name=${name}]`, 'aria-describedby')).toBe(`${name}-fault`)
    }
    expect(await page.textContent('#pinion-fault')).toContain('expected 1 to 1000, got 0')
    expect(await page.locator('.fault').count()).toBe(3)
    expect(await page.evaluate('document.activeElement.name')).toBe('pinion')
    await expectAccessible(page)

    await fill(page, { ...GOOD, size: 'FR70-14' })
    await page.waitForSelector('#size-fault')
    expect(await page.locator('.fault').count()).toBe(1)
    await fill(page, GOOD)
    await page.waitForSelector('#answer h2')
    expect(await page.locator('.fault, [aria-invalid], [aria-describedby]').count()).toBe(0)
    expect(faults).toEqual([])
  })

  test('shows that it waits, and reports an answer from a proxy', async () => {
    const { page, faults } = await openForm(club)
    let goOn = () => {}
    const held = new Promise<void>((resolve) => {
      goOn = resolve
    })
    await page.route('**/v1/vehicle-checks/worksheet', async (route) => {
      await held
      await route.fulfill({ status: 502, contentType: 'text/html', body: '<h1>Bad gateway</h1>' })
    })
    await fill(page, GOOD)
    expect(await page.textContent('#answer')).toBe('Checking …')
    goOn()
    await page.waitForSelector('#answer:has-text("cannot be reached")')
    expect(await page.textContent('#answer')).not.toContain('Checking')
    await page.unroute('**/v1/vehicle-checks/worksheet')
    await page.click('button')
    await page.waitForSelector('#answer h2')
    expect(await page.textContent('#answer')).not.toMatch(/Checking|cannot/)
    expect(faults.filter((fault) => !fault.includes('CORS'))).toEqual([])
  })

  test('from an origin that is not allowed, it explains that it gets no answer', async () => {
    const { page, faults } = await openForm(stranger)
    await fill(page, GOOD)
    await page.waitForSelector('#answer:has-text("cannot be reached")')
    expect(await page.textContent('#answer')).toBe('The service cannot be reached. Try again later.')
    expect(preflights).toContain(originOf(stranger))
    expect(faults).toEqual([expect.stringMatching(/blocked by CORS policy/)])
  })
})
