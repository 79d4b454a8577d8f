import type { Page, Route } from 'playwright-core'
import { expect, test } from 'vitest'
import { ERRORS, type ErrorCode } from '../../src/domain/errors.js'
import { DOMAIN_STATUS, REQUEST_PROBLEMS } from '../../src/http/problem-codes.js'
import { describeInBrowser, expectAccessible, useBrowser } from '../support/browser.js'
import { check, checkExample, useHome, WORKSHEET } from '../support/home-page.js'

interface Row {
  readonly code: string
  readonly status: number
  readonly title: string
}

const ROWS: readonly Row[] = [
  ...Object.entries(REQUEST_PROBLEMS).map(([code, { status, title }]) => ({ code, status, title })),
  ...Object.entries(ERRORS).map(([code, { title }]) => ({
    code,
    status: DOMAIN_STATUS[code as ErrorCode],
    title,
  })),
]

const DETAIL = 'What the service says of it.'

/** What the form says instead of a detail that the user cannot act on. */
const OWN_WORDS: Readonly<Record<number, RegExp>> = {
  429: /Too many requests came from your address\. Try again in 5 s\./,
  500: /The service failed on this request\. Your entries are kept\..*req-9/,
  503: /The service is busy or starting up\. Try again in 5 s\./,
}

describeInBrowser('GET / when it is answered with a problem', () => {
  const open = useBrowser()
  const home = useHome()

  /** Checks, and reads what the page says when this is the answer. */
  async function saidOf(page: Page, response: Parameters<Route['fulfill']>[0]): Promise<string> {
    await page.route(WORKSHEET, (route) => route.fulfill(response), { times: 1 })
    await page.evaluate('document.querySelector("#trouble").replaceChildren()')
    await check(page)
    await page.waitForSelector('#trouble h2')
    return (await page.textContent('#trouble'))!
  }

  const problemOf = ({ code, status, title }: Row, errors?: unknown[]) => ({
    status,
    contentType: 'application/problem+json; charset=utf-8',
    headers: { 'retry-after': '5' },
    body: JSON.stringify({
      type: `/problems/${code}`,
      title,
      status,
      code,
      detail: DETAIL,
      requestId: 'req-9',
      ...(errors && { errors }),
    }),
  })

  test('for every problem code it shows the detail or its own advice', async () => {
    const { page, faults } = await open(home.url)
    await checkExample(page)
    const wrong: string[] = []
    for (const row of ROWS) {
      const said = await saidOf(page, problemOf(row))
      const fits = OWN_WORDS[row.status]?.test(said) ?? said.includes(DETAIL)
      if (!fits || /undefined|null|NaN/.test(said)) wrong.push(`${row.code}: ${said}`)
    }
    expect(wrong).toEqual([])
    // The result of before is still the one of the form: nothing was changed.
    expect(await page.locator('.outdated').count()).toBe(0)
    await expectAccessible(page)
    expect(faults).toEqual([])
  })

  test('for every problem code an error appears at its field', async () => {
    const { page, faults } = await open(home.url)
    await page.click('#example')
    const wrong: string[] = []
    for (const row of ROWS.filter(({ status }) => status === 400 || status === 422)) {
      const pointer = '#/paths/0/stages/1/teeth/driven'
      await saidOf(page, problemOf(row, [{ in: 'body', pointer, code: row.code, detail: DETAIL }]))
      const marked = await page.locator('[aria-invalid]').evaluateAll((fields) => fields.map(({ id }) => id))
      if (`${marked}` !== 'stage-2-teeth-driven') wrong.push(`${row.code}: ${marked}`)
    }
    expect(wrong).toEqual([])
    expect(faults).toEqual([])
  })

  test('a problem from a proxy, with a title only, is shown without gaps', async () => {
    const { page } = await open(home.url)
    await page.click('#example')
    for (const status of [403, 500, 502, 504]) {
      const said = await saidOf(page, {
        status,
        contentType: 'application/problem+json',
        body: '{"title":"Bad gateway"}',
      })
      expect(said).not.toMatch(/undefined|null/)
      expect(said.length).toBeGreaterThan('Not checked'.length + 10)
    }
  })

  test('an answer of another release is reported', async () => {
    const { page } = await open(home.url)
    await page.click('#example')
    for (const body of ['{}', 'null', '{"paths":[{}]}']) {
      const said = await saidOf(page, { status: 200, contentType: 'application/json', body })
      expect(said).toMatch(/cannot show the answer of the service.*Reload the page/)
      expect(await page.textContent('#said')).toBe('')
    }
    await checkExample(page)
  })

  test('the list of errors has focus and a name, and is not in a live region that would repeat it', async () => {
    const { page } = await open(home.url)
    await check(page)
    await page.waitForSelector('#trouble h2')
    expect(await page.locator('#trouble').ariaSnapshot()).toMatch(
      /^- region "Not checked Some fields need correction\."/,
    )
    expect(await page.evaluate('document.activeElement.id')).toBe('trouble')
    expect(await page.locator('#trouble').evaluate((part) => part.closest('[role=alert], [aria-live]'))).toBe(
      null,
    )
  })
})
