import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type TestApp, testApp } from '../support/app.js'
import { describeInBrowser, expectAccessible, expectNoOverflow, useBrowser } from '../support/browser.js'
import { pdfPages, solid } from '../support/pdf-text.js'
import { exampleProfile } from '../support/worksheet-vehicles.js'

const folder = join(import.meta.dirname, '../../examples/vehicles')

describeInBrowser('the worksheet as HTML', () => {
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

  const sheetOf = async (profile: unknown) => {
    const response = await app.inject({
      method: 'POST',
      url: '/v1/vehicle-checks/worksheet',
      headers: { 'content-type': 'application/json', accept: 'text/html' },
      payload: JSON.stringify(profile),
    })
    expect(response.statusCode).toBe(200)
    return response.body
  }

  describe('printed', () => {
    test('tables lie within the paper with all their lines, and fields to fill in have room', async () => {
      // A4 without its margins: 190 mm.
      const { page } = await open(`${address}/v1/units`, { viewport: { width: 718, height: 1000 } })
      await page.emulateMedia({ media: 'print' })
      await page.setContent(await sheetOf(exampleProfile('cable-changed-axle.json')))
      const found = await page.evaluate(() => {
        const MM = 96 / 25.4
        const sizes = (selector: string) =>
          Array.from(document.querySelectorAll(selector), (element) => element.getBoundingClientRect())
        const least = (selector: string, side: 'width' | 'height') =>
          Math.min(...sizes(selector).map((size) => size[side])) / MM
        const paper = document.body.getBoundingClientRect()
        return {
          // Half a line lies outside of the box of a table.
          beside: Math.min(
            ...sizes('table').flatMap(({ left, right }) => [left - paper.left, paper.right - right]),
          ),
          bench: least('.rows-5 tbody tr', 'height'),
          road: least('.rows-7 tbody tr', 'height'),
          blanks: least('.blanks li', 'height'),
          cells: least('.rows-5 tbody td:last-child, .rows-7 tbody td:nth-last-child(-n + 3)', 'width'),
        }
      })
      expect(found.beside).toBeGreaterThanOrEqual(0.5)
      expect(found.bench).toBeGreaterThanOrEqual(5 - 0.01)
      expect(found.road).toBeGreaterThanOrEqual(7 - 0.01)
      expect(found.blanks).toBeGreaterThanOrEqual(8)
      expect(found.cells).toBeGreaterThanOrEqual(10)
    })

    test.each(['A4', 'Letter'])(
      '%s: pages are numbered, and no title is separated from its table or list',
      async (format) => {
        const { page } = await open(`${address}/v1/units`)
        const sheet = await sheetOf(exampleProfile('cable-changed-axle.json'))
        const apart: string[] = []
        // Whatever stands above moves all the rest down.
        for (let downMm = 0; downMm <= 75; downMm += 5) {
          await page.setContent(sheet)
          await page.addStyleTag({ content: `header { padding-top: ${downMm}mm }` })
          const pages = (await pdfPages(await page.pdf({ format }))).map(({ text }) => solid(text))
          for (const [index, text] of pages.entries())
            expect(text).toContain(solid(`page ${index + 1} of ${pages.length}`))
          for (const [title, next] of [
            ['Remedies', 'What puts it right'],
            ['What puts it right, best first', 'What remains'],
            ['What puts it right, best first', 'from 20 to 22 teeth'],
            ['On the bench, head alone', 'Mark'],
            ['On the bench, head alone', 'Signature:'],
            ['Measured on this vehicle', 'rear tire, loss of tread depth'],
            ['Sources', 'Definitions of the units'],
          ] as const) {
            const on = (words: string) =>
              pages.flatMap((text, index) => (text.includes(solid(words)) ? [index] : []))
            if (!on(title).some((index) => on(next).includes(index)))
              apart.push(`${downMm} mm: ${title} on ${on(title)}, ${next} on ${on(next)}`)
          }
        }
        expect(apart).toEqual([])
      },
    )
  })
})
