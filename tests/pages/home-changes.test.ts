import type { Page } from 'playwright-core'
import { expect, test } from 'vitest'
import { post } from '../support/app.js'
import { describeInBrowser, expectAccessible, expectNoOverflow, useBrowser } from '../support/browser.js'
import { check, checkExample, faultsShown, fillBenchCar, useHome, WORKSHEET } from '../support/home-page.js'

const CHANGED = 'The form has changed since this check.'

describeInBrowser('GET / while its form changes', () => {
  const open = useBrowser()
  const home = useHome()

  const said = (page: Page) => page.textContent('#said')
  const notes = (page: Page) => page.locator('.outdated').count()

  test('an answer that arrives after the form was changed is marked as outdated', async () => {
    const { page, faults } = await open(home.url)
    await page.click('#example')
    const goOn: Array<() => void> = []
    await page.route(WORKSHEET, async (route) => {
      await new Promise<void>((resolve) => goOn.push(resolve))
      await route.continue()
    })
    await check(page)
    await page.fill('#size', '165R13')
    // Nothing says so while it is waited for.
    expect(await said(page)).toBe('Checking …')
    const before = await page.evaluate('scrollY')
    goOn[0]!()
    await page.waitForSelector('#result h2')
    expect(await page.textContent('.outdated')).toBe(CHANGED)
    expect(await said(page)).toBe(CHANGED)
    expect(await page.evaluate('scrollY')).toBe(before)
    // As it was asked: the answer is of the form again.
    await page.fill('#size', '175/70R13')
    expect(await notes(page)).toBe(0)
    expect(await said(page)).toMatch(/^Checked: not proven/)
    expect(faults).toEqual([])
  })

  test('any change of the form marks the result as outdated', async () => {
    const { page } = await open(home.url)
    const stage = (index: number, words: string) =>
      page.locator('#stages li').nth(index).getByRole('button', { name: words }).click()
    const changes: Array<() => Promise<unknown>> = [
      () => stage(0, 'Toward the dial'),
      () => stage(1, 'Remove'),
      () => page.click('#add'),
      () => page.locator('#stages select').first().selectOption('final-drive ratio'),
      () => page.getByLabel('km/h', { exact: true }).check(),
      () => page.selectOption('#rule', 'eec-75-443'),
      () => page.selectOption('#axle', 'front'),
      () => page.fill('#speeds', '30'),
      () => page.click('#empty'),
    ]
    await checkExample(page)
    for (const change of changes) {
      await page.click('#example')
      expect(await notes(page), String(change)).toBe(0)
      await change()
      expect(await notes(page), String(change)).toBe(1)
      expect(await said(page), String(change)).toBe(CHANGED)
    }
  })

  /** Everything that the form shows: its fields, and the words that hang on them. */
  const shown = (page: Page) =>
    page.evaluate<unknown>(`[
      Array.from(document.querySelectorAll('#car input, #car select'), (field) =>
        [field.id || field.value, field.type === 'radio' ? field.checked : field.value]),
      Array.from(document.querySelectorAll('span[data-unit], #input-word, #stages legend'), ({ textContent }) => textContent),
      Array.from(document.querySelectorAll('[data-tire]:not([hidden])'), ({ dataset }) => dataset.tire),
    ]`)

  // 2026-11: the browser put the units back to km/h under labels that said mph, so a top speed in mph was taken as km/h.
  test('after a reload or back navigation the form has its entries', async () => {
    const { page, faults } = await open(home.url)
    await page.click('#example')
    await page.getByLabel('km/h', { exact: true }).check()
    await page.getByLabel('inches').check()
    await page.selectOption('#tireBy', 'turns')
    await page.fill('#turns', '800')
    await page.selectOption('#input', 'pulses')
    await page.click('#add')
    await page.locator('#stages select').last().selectOption('pulse-ring')
    await page.locator('#stages input').last().fill('8')
    await page.click('summary')
    await page.fill('#scalePercent', '-2')
    const left = await shown(page)
    expect(JSON.stringify(left)).toContain('km/h')
    await page.reload()
    expect(await shown(page)).toEqual(left)
    expect(await page.isVisible('#scalePercent')).toBe(true)
    await page.goto(`${home.url}openapi.json`)
    await page.goBack()
    await page.waitForSelector('#car:not([hidden])')
    expect(await shown(page)).toEqual(left)
    // 136.794 / 1.609344 = 84.99985, to six digits.
    await page.getByLabel('mph', { exact: true }).check()
    expect(await page.inputValue('#topSpeed')).toBe('84.9999')

    await page.click('#empty')
    await page.reload()
    expect(await page.inputValue('#name')).toBe('')
    expect(await page.isChecked('#speedUnit')).toBe(true)
    expect(faults).toEqual([])
  })

  test('works without session storage', async () => {
    const { page, faults } = await open('about:blank', {}, [home.url.slice(0, -1), 'null'])
    await page.addInitScript(
      `Object.defineProperty(window, 'sessionStorage', { get() { throw new DOMException('no', 'SecurityError') } })`,
    )
    await page.goto(home.url)
    await checkExample(page)
    expect(faults).toEqual([])
  })

  test('shows the requested speeds as the service answers them, and converts them with the unit', async () => {
    const { page, faults } = await open(home.url)
    await page.click('#example')
    await page.fill('#speeds', '25 30, 62.5')
    const asked = page.waitForRequest(WORKSHEET)
    await check(page)
    const body = JSON.parse((await asked).postData()!)
    expect(body.speeds).toEqual([{ mph: 25 }, { mph: 30 }, { mph: 62.5 }])
    await page.waitForSelector('#result h2')
    const rows = await page.locator('#result tbody tr').all()
    const cells = await Promise.all(rows.map((row) => row.locator('th, td').allInnerTexts()))
    const [{ stages, head }] = body.paths
    const path = { tire: body.tires.rear, stages, head, speeds: body.speeds }
    const { table } = (await post(home.app, '/v1/drive-paths/evaluation', path)).body
    expect(cells.map(([given]) => given)).toEqual(['25.0', '30.0', '62.5'])
    for (const [index, [, shownSpeed]] of cells.entries())
      expect(Math.abs(Number.parseFloat(shownSpeed!) - table[index].indicated.mph)).toBeLessThanOrEqual(
        0.0501,
      )
    // 62.5 mi = 100.584 km, exactly.
    await page.getByLabel('km/h', { exact: true }).check()
    expect(await page.inputValue('#speeds')).toBe('40.2336 48.2803, 100.584')
    expect(faults).toEqual([])
  })

  test('reports errors in the speeds together with those in the car', async () => {
    const { page, faults } = await open(home.url)
    await page.click('#example')
    await page.fill('#speeds', '30 0')
    await page.fill('#constant', '0')
    await check(page)
    expect(await faultsShown(page)).toEqual({
      speeds: 'Expected 0.02236 to 626.4, got 0',
      constant: 'Expected 1.609 to 16100000, got 0',
    })
    await page.fill('#constant', '1000')
    await page.fill('#speeds', '30 fast')
    await check(page)
    await page.waitForSelector('#speeds-fault:has-text("fast")')
    expect(Object.keys(await faultsShown(page))).toEqual(['speeds'])
    expect(faults).toEqual([])
  })

  test('sends the error of the head, and opens its section for an error in it', async () => {
    const { page, faults } = await open(home.url)
    // A wheel of 1000 turns a mile on a head of 1000: what it shows is its own error alone.
    await fillBenchCar(page)
    await page.click('summary')
    await page.fill('#scalePercent', '-5')
    await page.fill('#offset', '2')
    await page.fill('#speeds', '60')
    await check(page)
    await page.waitForSelector('#result h2')
    // 60 x 0.95 + 2 = 59.
    expect(await page.locator('#result tbody tr').locator('th, td').allInnerTexts()).toEqual([
      '60.0',
      '59.0',
      expect.stringMatching(/^−1\.7$/),
      'Not allowed',
    ])
    await page.fill('#scalePercent', '−5')
    await page.click('summary')
    await check(page)
    await page.waitForSelector('#scalePercent-fault')
    expect(await page.isVisible('#scalePercent')).toBe(true)
    await page.setViewportSize({ width: 320, height: 640 })
    await expectNoOverflow(page)
    await expectAccessible(page)
    expect(faults).toEqual([])
  })
})
