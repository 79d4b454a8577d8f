/// <reference lib="dom" />
/// <reference lib="dom.iterable" />
import { parseHTML } from 'linkedom'
import { afterAll, describe, expect, test } from 'vitest'
import type { WorksheetShape } from '../../src/schemas/worksheets.js'
import { post, testApp } from '../support/app.js'
import { exampleProfile } from '../support/worksheet-vehicles.js'

const app = await testApp()
afterAll(() => app.close())

type Point = [number, number]
type Path = WorksheetShape['paths'][number]

const pathOf = async (profile: unknown): Promise<Path> =>
  (await post(app, '/v1/vehicle-checks/worksheet', profile)).body.paths[0]

/** Numbers along a path of straight lines. */
const vertices = (d: string): Point[] =>
  [...d.matchAll(/(-?[\d.]+),(-?[\d.]+)/g)].map(([, x, y]) => [Number(x), Number(y)])

/** A plot read back as a person reads it: through the numbers written at its axes. */
function readPlot(svg: string) {
  const { document } = parseHTML(`<!doctype html><html><body>${svg}</body></html>`)
  const number = (text: string) => Number(text.replace('−', '-'))
  const [bottom, top, left, right] = Array.from(document.querySelectorAll('svg > g'))
    .slice(0, 4)
    .map((axis) =>
      Array.from(axis.querySelectorAll('g')).map((tick) => ({
        x: Number(tick.querySelector('line')!.getAttribute('x1')),
        y: Number(tick.querySelector('line')!.getAttribute('y1')),
        value: number(tick.querySelector('text')!.textContent!),
      })),
    )
  const through = (ticks: ReadonlyArray<{ at: number; value: number }>) => {
    const [a, b] = [ticks[0]!, ticks.at(-1)!]
    return (at: number) => a.value + ((at - a.at) / (b.at - a.at)) * (b.value - a.value)
  }
  const alongX = (ticks: typeof bottom) => through(ticks!.map(({ x, value }) => ({ at: x, value })))
  const alongY = (ticks: typeof left) => through(ticks!.map(({ y, value }) => ({ at: y, value })))
  const x = alongX(bottom)
  const y = alongY(left)
  const line = (id: string): Point[] => {
    const d = document.getElementById(id)?.getAttribute('d')
    return d == null ? [] : vertices(d).map(([px, py]) => [x(px), y(py)])
  }
  const dots = Array.from(document.querySelectorAll('svg > circle')).map((dot) => ({
    own: [x(Number(dot.getAttribute('cx'))), y(Number(dot.getAttribute('cy')))] as Point,
    other: [
      alongX(top)(Number(dot.getAttribute('cx'))),
      alongY(right)(Number(dot.getAttribute('cy'))),
    ] as Point,
  }))
  const spans = Array.from(document.querySelectorAll('svg > path'))
    .map((path) => /^M([\d.]+) ([\d.]+)V([\d.]+)M/.exec(path.getAttribute('d') ?? ''))
    .flatMap((found) => (found === null ? [] : [found.slice(1).map(Number)]))
    .map(([at, low, high]) => [x(at!), y(low!), y(high!)])
  return { document, line, dots, spans }
}

/** Lengths are drawn to a thousandth of a unit, 300 of which are the width of the plot. */
const CLOSE = 2

for (const [file, own, other] of [
  ['cable-changed-axle.json', 'mph', 'kmh'],
  ['pulse-ring-display.json', 'mph', 'kmh'],
  ['wheel-driven-cable.json', 'kmh', 'mph'],
] as const) {
  describe(file, () => {
    test('dots lie at the values of the table on the axes of both units', async () => {
      const path = await pathOf(exampleProfile(file))
      const { dots } = readPlot(path.plot)
      expect(dots.length).toBe(path.table.length)
      for (const [index, row] of path.table.entries()) {
        const dot = dots[index]!
        expect(dot.own[0]).toBeCloseTo(row.true[own], CLOSE)
        expect(dot.own[1]).toBeCloseTo(row.error![own], CLOSE)
        expect(dot.other[0]).toBeCloseTo(row.true[other], CLOSE)
        expect(dot.other[1]).toBeCloseTo(row.error![other], CLOSE)
      }
    })

    test('the ribbon reaches the uncertainty to either side', async () => {
      const path = await pathOf(exampleProfile(file))
      const around = readPlot(path.plot).line('plot-1-uncertainty')
      // High edge from left to right, then low edge from right to left.
      const half = around.length / 2
      const high = around.slice(0, half)
      const low = around.slice(half).reverse()
      expect(half).toBe(path.table.length + 1)
      for (const [index, row] of path.table.entries()) {
        const width = high[index + 1]![1] - low[index + 1]![1]
        expect(high[index + 1]![0]).toBeCloseTo(row.true[own], CLOSE)
        expect(width / 2).toBeCloseTo(row.error!.plusMinus![own], CLOSE)
      }
    })

    test('series hold the points of the lines', async () => {
      const path = await pathOf(exampleProfile(file))
      const { line } = readPlot(path.plot)
      for (const [name, id] of [
        ['error', 'plot-1-error'],
        ['lower limit of the rule', 'plot-1-lower'],
        ['upper limit of the rule', 'plot-1-upper'],
      ]) {
        const { points } = path.series.find((one) => one.name === name)!
        const drawn = line(id!)
        expect(drawn.length).toBe(points.length)
        for (const [index, [x, y]] of points.entries()) {
          expect(drawn[index]![0]).toBeCloseTo(x!, CLOSE)
          expect(drawn[index]![1]).toBeCloseTo(y!, CLOSE)
        }
      }
    })
  })
}

describe('limits of the band', () => {
  test('UN R39: 0 and 10 % of true plus 4 km/h, here in mph', async () => {
    const { line } = readPlot((await pathOf(exampleProfile('cable-changed-axle.json'))).plot)
    for (const [v, e] of line('plot-1-upper')) expect(e).toBeCloseTo(0.1 * v + 4 / 1.609344, CLOSE)
    for (const [, e] of line('plot-1-lower')) expect(e).toBeCloseTo(0, CLOSE)
    // Up to the highest test speed: 80 % of the top speed of 85 mph.
    expect(line('plot-1-upper').at(-1)![0]).toBeCloseTo(68, CLOSE)
  })

  test('StVZO 57 before 1991 on a dial to 130 km/h: 9.1 km/h from where the dial shows 130/3', async () => {
    const { line } = readPlot((await pathOf(exampleProfile('wheel-driven-cable.json'))).plot)
    const upper = line('plot-1-upper')
    for (const [, e] of upper) expect(e).toBeCloseTo(9.1, CLOSE)
    // Shown = true · 1.25e6/(2.99 · 666)/585 + 1; the last two thirds of 130 start before the mark of 50.
    const scale = 1.25e6 / (2.99 * 666) / 585
    expect(upper[0]![0]).toBeCloseTo((130 / 3 - 1) / scale, CLOSE)
    expect(line('plot-1-lower')[0]![0]).toBeCloseTo(20, CLOSE)
  })

  test('a rule at single speeds is drawn as bars, and no band', async () => {
    const profile = { ...exampleProfile('cable-changed-axle.json'), rule: 'us-49-cfr-393-82' }
    const path = await pathOf(profile)
    expect(path.limitsAre).toBe('points')
    const { document, spans } = readPlot(path.plot)
    expect(document.getElementById('plot-1-allowed')).toBeNull()
    // Found 2026-11: "allowed by us-49-cfr-393-82 at these speeds".
    const legend = Array.from(document.querySelectorAll('svg > g:last-of-type text'))
    expect(legend.slice(2).map(({ textContent }) => textContent)).toEqual([
      'allowed by the rule at these speeds (US 49 CFR',
      '393.82, commercial vehicles)',
    ])
    const [, , , height] = document.querySelector('svg')!.getAttribute('viewBox')!.split(' ').map(Number)
    for (const line of legend) expect(Number(line.getAttribute('y'))).toBeLessThan(height!)
    // 45 to 55 mph at 50 mph.
    expect(spans).toEqual([[50, -5, 5].map((value) => expect.closeTo(value, CLOSE))])
  })

  test('so are the three readings of the bench of 1944: 9 to 11, 30 to 32, 60 to 63 mph', async () => {
    const profile = { ...exampleProfile('cable-changed-axle.json'), rule: 'us-army-bench-1944' }
    const { spans } = readPlot((await pathOf(profile)).plot)
    expect(spans).toEqual(
      [
        [10, -1, 1],
        [30, 0, 2],
        [60, 0, 3],
      ].map((span) => span.map((value) => expect.closeTo(value, CLOSE))),
    )
  })

  test('a rule without limits of speed draws no band', async () => {
    const path = await pathOf({ ...exampleProfile('cable-changed-axle.json'), rule: 'de-odometer' })
    expect(path.series.length).toBe(3)
    expect(path.plot).not.toContain('allowed by')
  })
})

describe('numbers on the axes', () => {
  // Up to a slip by which the dial shows a thousand times the speed.
  for (const perMile of [100_000, 1000, 400, 50, 8, 2]) {
    test(`do not overlap the axis title, and differ, where the head reads true at ${perMile} a mile`, async () => {
      const profile = exampleProfile('cable-changed-axle.json')
      profile.paths[0].head.constant = { perMile }
      const { document } = readPlot((await pathOf(profile)).plot)
      const [, , left, right] = Array.from(document.querySelectorAll('svg > g')).slice(0, 4)
      for (const [axis, side] of [
        [left!, -1],
        [right!, 1],
      ] as const) {
        const size = Number(axis.getAttribute('font-size'))
        const name = Array.from(axis.children).at(-1)!
        // Turned by a right angle: it rises by its ascenders to the left, and falls by its descenders to the right.
        const edge = Number(name.getAttribute('x')) + (side === 1 ? -0.76 : 0.24) * size
        const texts = Array.from(axis.querySelectorAll('g')).map((tick) => tick.querySelector('text')!)
        expect(new Set(texts.map((text) => text.textContent)).size).toBe(texts.length)
        for (const text of texts) {
          // A digit of DejaVu Sans Condensed is 0.573 em wide, a minus sign 0.754; points and commas hardly count.
          const width = 0.573 * size * (text.textContent!.replaceAll(/[.,]/g, '').length + 0.4)
          const end = Number(text.getAttribute('x')) + side * width
          expect(side * (edge - end), text.textContent!).toBeGreaterThan(0)
        }
      }
    })
  }
})
