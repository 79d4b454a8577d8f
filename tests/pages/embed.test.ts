import { createServer, type ServerResponse } from 'node:http'
import type { AddressInfo } from 'node:net'
import { parseHTML } from 'linkedom'
import type { Frame, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type TestApp, testApp } from '../support/app.js'
import { describeInBrowser, expectAccessible, expectNoOverflow, useBrowser } from '../support/browser.js'
import { blocksOf, pages } from '../support/markdown.js'

/** The snippet that a club copies, with the address of its service. */
const SNIPPET = blocksOf(pages.get('docs/integrations.md')!).find(({ language }) => language === 'html')!.text

const FIELDS = [
  'size',
  'ring',
  'pinion',
  'driving',
  'driven',
  'unit',
  'constant',
  'dialMax',
  'speeds',
  'rule',
  'check',
]
const GOOD = { size: '175/70R13', ring: '37', pinion: '9', driving: '6', driven: '20', constant: '1000' }

describe('GET /embed', () => {
  const ancestorsOf = async (setting: string | undefined, url = '/embed') => {
    const app = await testApp(setting === undefined ? {} : { FRAME_ANCESTORS: setting })
    const { headers } = await app.inject(url)
    await app.close()
    return /frame-ancestors ([^;]*)$/.exec(String(headers['content-security-policy']))?.[1]
  }

  test('may be shown in a frame by the origins of FRAME_ANCESTORS, by default of none', async () => {
    expect(await ancestorsOf(undefined)).toBe("'none'")
    expect(await ancestorsOf('https://club.example, https://www.club.example')).toBe(
      'https://club.example https://www.club.example',
    )
    expect(await ancestorsOf('*')).toBe('*')
  })

  test('FRAME_ANCESTORS opens no other page', async () => {
    for (const url of ['/', '/reference', '/pages/embed.js'])
      expect(await ancestorsOf('https://club.example', url)).toBe("'none'")
  })

  test('offers the rules that the full form offers', async () => {
    const app = await testApp()
    const rulesAt = async (url: string) => {
      const { document } = parseHTML((await app.inject(url)).body)
      return [...document.querySelectorAll('#rule option')].map((option) => [
        option.getAttribute('value'),
        option.textContent,
      ])
    }
    expect(await rulesAt('/embed')).toEqual(await rulesAt('/'))
    await app.close()
  })
})

describeInBrowser('/embed in a frame of another origin', () => {
  const open = useBrowser()
  let app: TestApp
  let api: string
  const respond = (response: ServerResponse) =>
    response
      .setHeader('content-type', 'text/html; charset=utf-8')
      .end(
        `<!doctype html><html lang="en"><title>Club</title><link rel="icon" href="data:,"><h1>Club</h1>${SNIPPET.replaceAll('https://speedometer.example', api)}`,
      )
  const club = createServer((_request, response) => respond(response))
  const stranger = createServer((_request, response) => respond(response))
  // By its name, so that the club is another site, too.
  const originOf = (server: typeof club) => `http://localhost:${(server.address() as AddressInfo).port}`

  beforeAll(async () => {
    for (const server of [club, stranger])
      await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
    app = await testApp({ FRAME_ANCESTORS: originOf(club) })
    api = await app.listen({ host: '127.0.0.1', port: 0 })
  })
  afterAll(async () => {
    for (const server of [club, stranger]) {
      server.closeAllConnections()
      server.close()
    }
    await app.close()
  })

  async function openForm(server: typeof club) {
    const { page, faults } = await open(`${originOf(server)}/`, {}, [originOf(server), api])
    return { page, faults, frame: page.frames()[1]! }
  }
  async function fill(frame: Frame, values: Record<string, string>) {
    for (const [id, value] of Object.entries(values)) await frame.fill(`#${id}`, value)
    await frame.click('#check')
  }
  const heightOf = (page: Page) => page.locator('iframe').evaluate((frame) => frame.clientHeight)

  test('shows verdict, plot and table; axe finds nothing, nothing sticks out, and nothing is stored', async () => {
    const { page, faults, frame } = await openForm(club)
    await fill(frame, GOOD)
    await frame.waitForSelector('#result h2')
    expect(await frame.locator('.verdict').allTextContents()).toEqual([
      expect.stringMatching(/^Not proven under UN Regulation No. 39, type approval\./),
    ])
    expect(await frame.textContent('#said')).toMatch(/^Checked: not proven under /)
    // 175/70R13: 13 x 25.4 + 2 x 122.5 mm, rolling 3.05 of it; 1609344 mm a mile by 37/9 and 6/20 of 1000 turns.
    const slope = ((1_609_344 / (3.05 * (13 * 25.4 + 2 * 175 * 0.7))) * 37 * 6) / 9 / 20 / 1000
    expect(await frame.textContent('#result dl')).toContain(
      `over-reads by ${(100 * (slope - 1)).toFixed(1)} ±`,
    )
    expect(await frame.locator('#result svg').count()).toBe(1)
    await expectAccessible(frame)
    await page.setViewportSize({ width: 320, height: 640 })
    await expectNoOverflow(frame)
    await expectAccessible(frame)
    expect(await page.context().cookies()).toEqual([])
    expect(faults).toEqual([])
  })

  test('the frame of the snippet grows with the form and its answer', async () => {
    const { page, frame, faults } = await openForm(club)
    const fits = async () =>
      (await heightOf(page)) === (await frame.evaluate('document.documentElement.offsetHeight'))
    await expect.poll(fits).toBe(true)
    const before = await heightOf(page)
    await fill(frame, GOOD)
    await frame.waitForSelector('#result h2')
    await expect.poll(fits).toBe(true)
    expect(await heightOf(page)).toBeGreaterThan(before + 300)
    expect(faults).toEqual([])
  })

  test('goes from field to field by the Tab key, and checks by the Enter key', async () => {
    const { page, frame, faults } = await openForm(club)
    await frame.focus('#size')
    const visited: unknown[] = []
    for (const _ of FIELDS) {
      visited.push(await frame.evaluate('document.activeElement.id'))
      await page.keyboard.press('Tab')
    }
    expect(visited).toEqual(FIELDS)
    for (const [id, value] of Object.entries(GOOD)) await frame.fill(`#${id}`, value)
    await frame.press('#constant', 'Enter')
    await frame.waitForSelector('#result h2')
    expect(faults).toEqual([])
  })

  test('shows each error at its field and in a list that has the focus', async () => {
    const { frame, faults } = await openForm(club)
    await fill(frame, {
      ...GOOD,
      size: '5.60',
      pinion: '0',
      driven: 'twenty',
      constant: '',
      speeds: '30 fast',
    })
    await frame.waitForSelector('#trouble:not([hidden])')
    const invalid = await frame.locator('[aria-invalid]').evaluateAll((all) => all.map(({ id }) => id))
    expect(invalid).toEqual(['pinion', 'driven', 'constant', 'speeds'])
    expect(await frame.textContent('#pinion-fault')).toBe('Expected 1 to 1000, got 0')
    expect(await frame.evaluate('document.activeElement.id')).toBe('trouble')
    await expectAccessible(frame)
    await fill(frame, { ...GOOD, size: '5.60', speeds: '' })
    await frame.waitForSelector('#size-fault')
    // The full form takes a measured tire "under Known by", which this form does not have.
    expect(await frame.textContent('#size-fault')).toMatch(/; or measure the tire and use the full form\.$/)
    expect(faults).toEqual([])
  })

  test('begins with the unit and the rule of its address, and ignores others', async () => {
    const { page, faults } = await open(`${api}/embed#unit=kmh&rule=de-before-1991&size=x`)
    expect(await page.inputValue('#unit')).toBe('kmh')
    expect(await page.inputValue('#rule')).toBe('de-before-1991')
    expect(await page.inputValue('#size')).toBe('')
    // 1000 turns a mile are 621.371 a kilometer; this rule needs the last mark of the dial.
    const entries = { ...GOOD, constant: '621.371192', speeds: '50' }
    for (const [id, value] of Object.entries(entries)) await page.fill(`#${id}`, value)
    await page.click('#check')
    await page.waitForSelector('#dialMax-fault')
    await page.fill('#dialMax', '160')
    await page.click('#check')
    await page.waitForSelector('#result table')
    // 13.14 % over 50 km/h, by the slope above.
    expect(await page.locator('#result tbody td').first().textContent()).toMatch(/^56\.6 ± /)
    expect(faults).toEqual([])
    await page.goto('about:blank')
    await page.goto(`${api}/embed#unit=knots&rule=none`)
    expect(await page.inputValue('#unit')).toBe('mph')
    expect(await page.inputValue('#rule')).toBe('un-r39')
  })

  test('is not shown by a page of another origin', async () => {
    const { frame, faults } = await openForm(stranger)
    expect(await frame.locator('#car').count()).toBe(0)
    expect(faults).toEqual([expect.stringContaining('frame-ancestors')])
  })
})
