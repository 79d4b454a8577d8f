import { existsSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { pathToFileURL } from 'node:url'
import { chromium } from 'playwright-core'
import { getDocument, OPS, Util } from 'unpdf/pdfjs'
import { afterAll, describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { tempFolder } from '../support/temp.js'

const CHROMIUM = ['/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'].find(existsSync)
if (CHROMIUM === undefined) console.warn('no browser here: the print of the dial scale is not measured')

const app = await testApp()
const browser =
  CHROMIUM === undefined
    ? undefined
    : await chromium.launch({ executablePath: CHROMIUM, args: ['--no-sandbox'] })
afterAll(async () => {
  await browser?.close()
  await app.close()
})

/** The drawing, printed by a browser on A4 at 100 %. */
async function printed(body: object): Promise<Uint8Array> {
  const response = await app.inject({
    method: 'POST',
    url: '/v1/gauges/dial-scale',
    headers: { 'content-type': 'application/json', accept: 'image/svg+xml' },
    payload: JSON.stringify(body),
  })
  expect(response.statusCode, response.body).toBe(200)
  const file = join(tempFolder(), 'scale.svg')
  writeFileSync(file, response.body)
  const page = await browser!.newPage()
  await page.goto(pathToFileURL(file).href)
  return new Uint8Array(await page.pdf({ format: 'A4', scale: 1 }))
}

/** Widths and heights of every path on the first page, in points (1/72 in). */
async function pathSizes(pdf: Uint8Array): Promise<Array<readonly [number, number]>> {
  const task = getDocument({ data: pdf, verbosity: 0 })
  const document = await task.promise
  expect(document.numPages).toBe(1)
  const { fnArray, argsArray } = await (await document.getPage(1)).getOperatorList()
  const sizes: Array<readonly [number, number]> = []
  const kept: number[][] = []
  let matrix: number[] = [1, 0, 0, 1, 0, 0]
  for (const [i, operation] of fnArray.entries()) {
    if (operation === OPS.save) kept.push(matrix)
    if (operation === OPS.restore) matrix = kept.pop()!
    if (operation === OPS.transform) matrix = Util.transform(matrix, argsArray[i])
    if (operation !== OPS.constructPath) continue
    const [x0, y0, x1, y1] = argsArray[i][2] as number[]
    sizes.push([(x1! - x0!) * Math.abs(matrix[0]!), (y1! - y0!) * Math.abs(matrix[3]!)])
  }
  await task.destroy()
  return sizes
}

const POINTS_PER_MM = 72 / 25.4

describe.skipIf(CHROMIUM === undefined)('printed by a browser', () => {
  // Sheets of other widths: a browser rounds the size of a drawing to whole pixels.
  test.each([40, 45.3, 61.7])(
    'radius %f mm: bars of 50 mm (141.73 points) and 1 inch (72 points), and the circle of the scale',
    async (radius) => {
      const sizes = await pathSizes(
        await printed({
          sweep: { start: { deg: -180 }, end: { deg: 180 } },
          unit: 'kmh',
          max: { kmh: 160 },
          face: { radius: { mm: radius } },
        }),
      )
      const has = (widthMm: number, heightMm: number) =>
        sizes.some(
          // A thousandth of a point is 0.4 micrometers.
          ([width, height]) =>
            Math.abs(width - widthMm * POINTS_PER_MM) < 1e-3 &&
            Math.abs(height - heightMm * POINTS_PER_MM) < 1e-3,
        )
      // The ticks at the ends of the bars are 4 mm high.
      expect(has(50, 4), JSON.stringify(sizes)).toBe(true)
      expect(has(25.4, 4)).toBe(true)
      expect(has(2 * radius, 2 * radius)).toBe(true)
    },
  )
})
