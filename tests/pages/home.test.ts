import { readFileSync } from 'node:fs'
import type { Page, Route } from 'playwright-core'
import { expect, test } from 'vitest'
import { describeInBrowser, expectAccessible, expectNoOverflow, useBrowser } from '../support/browser.js'
import { readOpenApi } from '../support/contract.js'
import { check, checkExample, faultsShown, fillBenchCar, useHome, WORKSHEET } from '../support/home-page.js'

const VERDICTS = { conforms: 'Allowed', 'does-not-conform': 'Not allowed', 'not-proven': 'Not proven' }

describeInBrowser('GET / in a browser', () => {
  const open = useBrowser()
  const home = useHome()

  const answerWith = (page: Page, response: Parameters<Route['fulfill']>[0]) =>
    page.route(WORKSHEET, (route) => route.fulfill(response))

  test('shows the verdict, figures, table, plot, findings and remedies of the service', async () => {
    const { page, faults } = await open(home.url)
    await page.click('#example')
    const request = page.waitForRequest(WORKSHEET)
    await check(page)
    const payload = (await request).postData()!
    await page.waitForSelector('#result h2')
    const response = await home.app.inject({
      method: 'POST',
      url: '/v1/vehicle-checks',
      headers: { 'content-type': 'application/json' },
      payload,
    })
    const { paths, findings, remedies } = response.json()
    const result = await page.textContent('#result')
    const verdict = paths[0].verdicts[0].result as keyof typeof VERDICTS
    expect(await page.textContent('.verdict strong')).toBe(VERDICTS[verdict])
    for (const { text } of [...findings, ...remedies]) expect(result).toContain(text)

    const rows = await page.locator('#result tbody tr').all()
    expect(rows.length).toBe(paths[0].table.length)
    for (const [index, row] of rows.entries()) {
      const expected = paths[0].table[index]
      const cells = (await row.locator('th, td').allInnerTexts()) as [string, string, string, string]
      expect(Number(cells[0])).toBeCloseTo(expected.true.mph, 1)
      expect(Math.abs(Number.parseFloat(cells[1]) - expected.indicated.mph)).toBeLessThanOrEqual(0.0501)
      expect(cells[3]).toBe(VERDICTS[expected.verdicts[0].result as keyof typeof VERDICTS])
    }
    const plot = page.locator('#result figure svg')
    expect(await plot.getAttribute('role')).toBe('img')
    expect((await plot.boundingBox())!.width).toBeGreaterThan(200)
    expect(await page.textContent('#said')).toBe(
      'Checked: not proven under UN Regulation No. 39, type approval.',
    )
    await expectAccessible(page)
    expect(faults).toEqual([])
  })

  test('a wheel of exactly 1000 turns a mile drives a head of 1000 turns a mile true, in mph and in km/h', async () => {
    const { page, faults } = await open(home.url)
    await fillBenchCar(page)
    for (const unit of ['mph', 'km/h']) {
      await page.getByLabel(unit, { exact: true }).check()
      await check(page)
      await page.waitForSelector(`#result th:has-text("True ${unit}")`)
      expect(await page.locator('#result dd').first().textContent()).toBe('over-reads by 0.0 %')
      for (const row of await page.locator('#result tbody tr').all()) {
        const [given, shown, error] = await row.locator('th, td').allInnerTexts()
        expect(shown).toBe(given)
        expect(error).toBe('0.0')
      }
    }
    expect(faults).toEqual([])
  })

  test('speeds and lengths stay the same when their unit is changed, and are sent in it', async () => {
    const { page } = await open(home.url)
    await page.click('#example')
    await page.getByLabel('km/h', { exact: true }).check()
    await page.getByLabel('inches').check()
    // 1 mi = 1.609344 km, 1 in = 25.4 mm, both exact: 85 x 1.609344 = 136.79424, 2 / 25.4 = 0.0787402 to six digits.
    expect(await page.inputValue('#topSpeed')).toBe('136.794')
    expect(await page.inputValue('#wear')).toBe('0.0787402')
    const request = page.waitForRequest(WORKSHEET)
    await check(page)
    const sent = JSON.parse((await request).postData()!)
    expect(sent.topSpeed).toEqual({ kmh: 136.794 })
    expect(sent.tires.rear).toEqual({ size: '175/70R13', wear: { in: 0.0787402 } })
    expect(sent.paths[0].head).toEqual({
      input: 'turns',
      constant: { perMile: 1000 },
      unit: 'kmh',
      dialMax: { kmh: 160.934 },
    })
    await page.getByLabel('mph', { exact: true }).check()
    await page.getByLabel('mm', { exact: true }).check()
    expect(await page.inputValue('#topSpeed')).toBe('85')
    expect(await page.inputValue('#wear')).toBe('2')
  })

  test('every kind of stage is offered in every form, and accepted', async () => {
    const { page } = await open(home.url)
    await page.click('#example')
    const { schemas } = readOpenApi().components
    const branches = schemas.Stage!.anyOf as unknown[]
    expect(await page.locator('#stage-1 option').count()).toBe(branches.length)

    // 2:1, then 1:2, and a ring with a scaler, together 8 pulses a turn of the wheel.
    const stages: Array<[way: string, values: string[]]> = [
      ['final-drive ratio', ['2']],
      ['gear-pair teeth', ['10', '20']],
      ['angle-drive ratio', ['2']],
      ['angle-drive teeth', ['10', '20']],
      ['adapter ratio', ['2']],
      ['adapter teeth', ['10', '20']],
      ['transfer-case ratio', ['2']],
      ['transfer-case teeth', ['10', '20']],
      ['pulse-ring', ['16']],
      ['pulse-scaler numbers', ['1', '4']],
      ['pulse-scaler ratio', ['2']],
    ]
    while ((await page.locator('#stages li').count()) < stages.length) await page.click('#add')
    for (const [index, [way, values]] of stages.entries()) {
      const stage = page.locator('#stages li').nth(index)
      await stage.locator('select').selectOption(way)
      for (const [at, value] of values.entries()) await stage.locator('input').nth(at).fill(value)
    }
    await page.selectOption('#input', 'pulses')
    await page.fill('#constant', '8000')
    await page.selectOption('#tireBy', 'turns')
    await page.fill('#turns', '1000')
    await check(page)
    await page.waitForSelector('#result h2')
    expect(await page.textContent('#result dl')).toContain(
      '8000.0 pulses per mile; the head reads true at 8000.0',
    )
  })

  test('buttons move and remove stages, and announce it', async () => {
    const { page } = await open(home.url)
    const kinds = () =>
      page.evaluate<string[]>('Array.from(document.querySelectorAll("#stages select"), ({ value }) => value)')
    const press = (stage: number, words: string) =>
      page.locator('#stages li').nth(stage).getByRole('button', { name: words }).click()
    await page.click('#add')
    expect(await page.evaluate('document.activeElement.tagName')).toBe('SELECT')
    await page.locator('#stages select').nth(2).selectOption('pulse-ring')
    await press(2, 'Toward the wheel')
    expect(await kinds()).toEqual(['final-drive teeth', 'pulse-ring', 'gear-pair teeth'])
    expect(await page.evaluate('document.activeElement.textContent')).toBe('Toward the wheel')
    await press(0, 'Toward the wheel')
    expect(await page.textContent('#stages-said')).toBe('This stage is already nearest to the wheel.')
    await press(1, 'Remove')
    expect(await kinds()).toEqual(['final-drive teeth', 'gear-pair teeth'])
    expect(await page.locator('#stages legend').allInnerTexts()).toEqual(['Stage 1', 'Stage 2'])
    await press(0, 'Toward the dial')
    expect(await kinds()).toEqual(['gear-pair teeth', 'final-drive teeth'])
  })

  test('shows what the service refuses at the fields it names, and goes to the list of them', async () => {
    const { page, faults } = await open(home.url)
    await check(page)
    expect(await faultsShown(page)).toEqual({
      name: 'Fill this in.',
      size: 'Fill this in.',
      'stage-1-ring': 'Fill this in.',
      'stage-1-pinion': 'Fill this in.',
      'stage-2-teeth-driving': 'Fill this in.',
      'stage-2-teeth-driven': 'Fill this in.',
      constant: 'Fill this in.',
    })
    expect(await page.evaluate('document.activeElement.id')).toBe('trouble')
    await expectAccessible(page)
    await page.click('#trouble a:has-text("Stage 2, Teeth of the driven gear")')
    expect(await page.evaluate('document.activeElement.id')).toBe('stage-2-teeth-driven')

    await page.click('#example')
    expect(await page.locator('.fault').count()).toBe(0)
    await page.fill('#constant', '1,000')
    await page.fill('#dialMax', 'fast')
    await page.fill('#stage-1-ring', '3.7')
    await page.fill('#stage-1-pinion', '0')
    await page.fill('#topSpeed', '１００')
    await check(page)
    const PLAIN = 'use digits and a decimal point only, for example 1000 or 3.7'
    expect(await faultsShown(page)).toEqual({
      topSpeed: `Expected a number, got "１００": ${PLAIN}`,
      'stage-1-ring': 'Expected a whole number, got 3.7',
      'stage-1-pinion': 'Expected 1 to 1000, got 0',
      constant: `Expected a number, got "1,000": ${PLAIN}`,
      dialMax: `Expected a number, got "fast": ${PLAIN}`,
    })
    // In the order of the page, not of the profile.
    expect(
      await page.locator('#trouble a').evaluateAll((links) => links.map((link) => link.getAttribute('href'))),
    ).toEqual(['#topSpeed', '#stage-1-ring', '#stage-1-pinion', '#constant', '#dialMax'])

    // Well formed, but not to be worked with: in the words of the form, not in those of the profile.
    const refusals: ReadonlyArray<readonly [() => Promise<unknown>, Record<string, RegExp>]> = [
      [
        () => page.fill('#size', 'FR70-14'),
        { size: /^The diameter of this size is in no standard.*Known by/ },
      ],
      [() => page.fill('#size', '5.60'), { size: /^This is not a tire size.*Known by/ }],
      [
        async () => {
          await page.locator('#stages select').first().selectOption('pulse-ring')
          await page.locator('#stages input').first().fill('8')
        },
        { 'stage-2': /^Wrong order/ },
      ],
      [() => page.selectOption('#input', 'pulses'), { input: /needs a pulse ring among the stages/ }],
    ]
    for (const [act, expected] of refusals) {
      await page.click('#example')
      await act()
      await check(page)
      const shown = await faultsShown(page)
      expect(Object.keys(shown)).toEqual(Object.keys(expected))
      for (const [id, words] of Object.entries(expected)) expect(shown[id]).toMatch(words)
    }
    expect(faults).toEqual([])
  })

  test('errors without a field appear in the list', async () => {
    const { page } = await open(home.url)
    await page.click('#example')
    const errors = [
      { in: 'body', pointer: '#/paths', code: 'x', detail: 'too many paths' },
      { in: 'body', pointer: '#/paths/0/head/constant/perMile', code: 'x', detail: 'too small' },
    ]
    const problem = { title: 'Impossible', detail: 'No.', status: 422, code: 'x', requestId: 'req-1', errors }
    await answerWith(page, {
      status: 422,
      contentType: 'application/problem+json',
      body: JSON.stringify(problem),
    })
    await check(page)
    expect(await faultsShown(page)).toEqual({ constant: 'Too small' })
    expect(await page.locator('#trouble li').allInnerTexts()).toEqual([
      'Too many paths',
      'Turns at which it reads true: Too small',
    ])
  })

  const problem = (status: number, title: string, detail: string) =>
    JSON.stringify({ type: '/problems/x', title, status, code: 'x', detail, requestId: 'req-7' })
  const PROBLEMS: ReadonlyArray<readonly [string, Parameters<Route['fulfill']>[0], RegExp]> = [
    [
      'is of a kind the page does not know',
      { status: 409, body: problem(409, 'Odd', 'It is odd.') },
      /^Odd\. It is odd\.$/,
    ],
    [
      'says that it is too large',
      { status: 413, body: problem(413, 'Too large', 'The body is larger than 10 bytes.') },
      /request is too large.*10 bytes/,
    ],
    [
      'says that there were too many requests, and when to go on',
      { status: 429, headers: { 'retry-after': '17' }, body: problem(429, 'Too many', 'Too many.') },
      /Too many requests.*in 17 s/,
    ],
    [
      'says that the service failed',
      { status: 500, body: problem(500, 'Failed', 'Failed.') },
      /service failed.*entries are kept.*req-7/,
    ],
    [
      'says that the service is busy, and when to go on',
      { status: 503, headers: { 'retry-after': '1' }, body: problem(503, 'Busy', 'Busy.') },
      /busy.*in 1 s/,
    ],
    [
      'says that the service is busy, without saying until when',
      { status: 503, body: problem(503, 'Busy', 'Busy.') },
      /busy.*Try again later/,
    ],
    [
      'is a page of something between, with status 200',
      { status: 200, contentType: 'text/html', body: '<h1>Log in</h1>' },
      /did not come from the service \(HTTP 200, text\/html\)/,
    ],
    [
      'is a page of something between, with status 502',
      { status: 502, contentType: 'text/html', body: '<h1>Bad gateway</h1>' },
      /did not come from the service \(HTTP 502/,
    ],
    ['is damaged', { status: 200, contentType: 'application/json', body: '{"paths":' }, /arrived incomplete/],
  ]
  test.each(PROBLEMS)('says so in plain words when the answer %s', async (_name, response, words) => {
    const { page, faults } = await open(home.url)
    await page.click('#example')
    await answerWith(page, { contentType: 'application/problem+json', ...response })
    await check(page)
    await page.waitForSelector('#trouble:not([hidden])')
    expect(await page.textContent('#trouble p')).toMatch(words)
    expect(await page.inputValue('#size')).toBe('175/70R13')
    expect(await page.textContent('#said')).toBe('')

    // And the next one is taken again.
    await page.unroute(WORKSHEET)
    await check(page)
    await page.waitForSelector('#result h2')
    expect(await page.isHidden('#trouble')).toBe(true)
    expect(faults).toEqual([])
  })

  test('says so when the service cannot be reached, and when the device is offline', async () => {
    const { page } = await open(home.url)
    await page.click('#example')
    await page.route(WORKSHEET, (route) => route.abort('connectionrefused'))
    await check(page)
    await page.waitForSelector('#trouble:has-text("cannot be reached")')
    await page.unroute(WORKSHEET)
    await page.context().setOffline(true)
    await check(page)
    await page.waitForSelector('#trouble:has-text("offline")')
  })

  test('shows that it waits, gives up on an answer that takes 20 s, and sends one request however often it is clicked', async () => {
    const { page, faults } = await open(home.url)
    await page.click('#example')
    await page.clock.install()
    let asked = 0
    await page.route(WORKSHEET, () => {
      asked++
    })
    await check(page)
    await page.dispatchEvent('#check', 'click')
    await page.press('#name', 'Enter')
    expect(await page.textContent('#said')).toBe('Checking …')
    expect(await page.getAttribute('#check', 'aria-disabled')).toBe('true')
    await page.clock.runFor(4000)
    expect(await page.textContent('#said')).toBe('Still waiting for the service …')
    await page.clock.runFor(16_000)
    await page.waitForSelector('#trouble:has-text("did not answer within 15 s")')
    expect(await page.getAttribute('#check', 'aria-disabled')).toBeNull()
    expect(asked).toBe(1)
    expect(faults).toEqual([])
  })

  test('works from the keyboard alone', async () => {
    const { page, faults } = await open(home.url)
    const focused = () => page.evaluate<string>('document.activeElement.id')
    /** Goes on with the tab key until a field has the focus; never in a circle. */
    async function tabTo(id: string) {
      for (let presses = 0; presses < 60; presses++) {
        await page.keyboard.press('Tab')
        if ((await focused()) === id) return
      }
      throw new Error(`Tab does not come to ${id}`)
    }
    for (const [id, value] of [
      ['name', 'Keyboard car'],
      ['size', '165R13'],
      ['stage-1-ring', '37'],
      ['stage-1-pinion', '9'],
      ['stage-2-teeth-driving', '6'],
      ['stage-2-teeth-driven', '22'],
      ['constant', '1000'],
    ] as const) {
      await tabTo(id)
      await page.keyboard.type(value)
    }
    await tabTo('check')
    await page.keyboard.press('Enter')
    await page.waitForSelector('#result h2:has-text("Keyboard car")')
    // The result follows the button: its plot and table, which may scroll, are where the tab key goes next.
    for (const part of [/^Plot/, /^Table/]) {
      await page.keyboard.press('Tab')
      expect(await page.evaluate('document.activeElement.getAttribute("aria-label")')).toMatch(part)
    }
    expect(faults).toEqual([])
  })

  test.each([320, 1200])(
    'at %i px nothing sticks out, and axe finds nothing: empty, with faults, with a result',
    async (width) => {
      const { page, faults } = await open(home.url, { viewport: { width, height: 800 } })
      await expectNoOverflow(page)
      await expectAccessible(page)
      await page.fill('#size', `${'x'.repeat(39)}0`)
      await check(page)
      await faultsShown(page)
      await expectNoOverflow(page)
      await expectAccessible(page)
      await checkExample(page)
      await expectNoOverflow(page)
      await expectAccessible(page)
      expect(faults).toEqual([])
    },
  )

  test('saves the worksheet of the checked car, as PDF and HTML', async () => {
    const { page, faults } = await open(home.url)
    await checkExample(page)
    await page.fill('#name', 'Another')
    expect(await page.textContent('.outdated')).toBe('The form has changed since this check.')
    for (const [words, name, start] of [
      ['Worksheet as PDF', 'worksheet.pdf', '%PDF-'],
      ['Worksheet as HTML', 'worksheet.html', '<!DOCTYPE html>'],
    ] as const) {
      const download = page.waitForEvent('download')
      await page.getByRole('button', { name: words }).click()
      const file = await download
      expect(file.suggestedFilename()).toBe(name)
      const text = readFileSync(await file.path(), 'latin1')
      expect(text.slice(0, start.length).toLowerCase()).toBe(start.toLowerCase())
      if (name.endsWith('html')) expect(text).toContain('Tarvenna Ostrel saloon')
    }
    await answerWith(page, {
      status: 503,
      contentType: 'application/problem+json',
      headers: { 'retry-after': '1' },
      body: problem(503, 'Busy', 'Busy.'),
    })
    await page.getByRole('button', { name: 'Worksheet as PDF' }).click()
    await page.waitForSelector('#result [role=status]:has-text("in 1 s")')
    expect(faults).toEqual([])
  })

  test('prints the result without the form', async () => {
    const { page } = await open(home.url)
    await checkExample(page)
    await page.emulateMedia({ media: 'print' })
    expect(await page.isVisible('#result table')).toBe(true)
    for (const part of ['#car', '#result button', 'nav']) expect(await page.isVisible(part), part).toBe(false)
  })

  test('without JavaScript it shows what to do instead, with a valid profile', async () => {
    const { page } = await open(home.url, { javaScriptEnabled: false })
    expect(await page.isVisible('#car')).toBe(false)
    const [profile, curl] = await page.locator('noscript pre').allTextContents()
    expect(curl).toMatch(
      /^curl -s http:\S+\/v1\/vehicle-checks -H 'content-type: application\/json' -d @car\.json$/,
    )
    const response = await home.app.inject({
      method: 'POST',
      url: '/v1/vehicle-checks',
      headers: { 'content-type': 'application/json' },
      payload: profile!,
    })
    expect(response.statusCode).toBe(200)
  })
})
