import { parseHTML } from 'linkedom'
import { afterAll, describe, expect, test } from 'vitest'
import type { DialScaleShape } from '../../src/schemas/dial-scale.js'
import { post, testApp } from '../support/app.js'
import { expectProblem } from '../support/problem.js'

const app = await testApp()
afterAll(() => app.close())

const URL = '/v1/gauges/dial-scale'
const SWEEP = { start: { deg: -120 }, end: { deg: 120 } }
const LINEAR = {
  sweep: SWEEP,
  unit: 'mph',
  max: { mph: 120 },
  graduations: { number: 20, major: 10, minor: 5 },
}
const point = (deg: number, mph: number) => ({ angle: { deg, plusMinus: 1 }, speed: { mph, plusMinus: 0.5 } })
const MEASURED = {
  sweep: { start: { deg: -135 }, end: { deg: 135 } },
  points: [point(-118, 10), point(-84, 25), point(-23, 50), point(32, 75), point(84, 100)],
  unit: 'mph',
  max: { mph: 110 },
  zeroStop: { deg: -130 },
  graduations: { major: 10, minor: 2 },
  secondScale: {},
  face: {
    radius: { mm: 42 },
    edgeDiameter: { mm: 100 },
    holeDiameter: { mm: 6 },
    window: { width: { mm: 22 }, height: { mm: 6 }, right: { mm: 1 }, down: { mm: 29 } },
  },
}

async function scale(body: object): Promise<DialScaleShape> {
  const { status, body: answer } = await post(app, URL, body)
  expect(status, JSON.stringify(answer)).toBe(200)
  return answer
}

const draw = (body: object, accept = 'image/svg+xml') =>
  app.inject({
    method: 'POST',
    url: URL,
    headers: { 'content-type': 'application/json', accept },
    payload: JSON.stringify(body),
  })

async function drawing(body: object) {
  const response = await draw(body)
  expect(response.statusCode, response.body).toBe(200)
  return parseHTML(response.body).document
}

async function refused(body: object, code: string) {
  const response = await draw(body, 'application/json')
  return expectProblem(response, 422, code).errors?.[0]?.pointer
}

const codes = ({ notes }: DialScaleShape) => notes.map(({ code }) => code)

describe('JSON', () => {
  test('a linear dial: 2 degrees per mph from -120, marks in both units of speed', async () => {
    const answer = await scale(LINEAR)
    expect(answer.method).toBe('linear-sweep')
    expect(answer.direction).toBe('clockwise')
    expect(answer.marks).toHaveLength(25)
    for (const { value, angle, speed } of answer.marks) {
      expect(angle.deg).toBeCloseTo(2 * value - 120, 10)
      expect(speed.mph).toBeCloseTo(value, 10)
      expect(speed.kmh).toBeCloseTo(value * 1.609344, 10)
      expect(angle.plusMinus).toBeUndefined()
    }
    expect(answer.marks[4]).toMatchObject({ kind: 'numbered', label: '20', unit: 'mph' })
    expect(codes(answer)).toEqual([
      'drive-not-corrected',
      'verify-scale',
      'units-by-law',
      'linear-scale-assumed',
      'radius-assumed',
    ])
    expect(answer.sources).not.toContain('monotone-cubic')
  })
  test('the required fields are enough: sweep, points, unit, max, graduations', async () => {
    const answer = await scale({
      sweep: SWEEP,
      points: [
        { angle: { deg: -120 }, speed: { kmh: 0 } },
        { angle: { deg: 120 }, speed: { kmh: 160 } },
      ],
      unit: 'kmh',
      max: { kmh: 160 },
      graduations: { major: 20 },
    })
    // 240 degrees for 160 km/h.
    expect(answer.marks.map(({ label, angle }) => [label, angle.deg])).toEqual(
      [0, 20, 40, 60, 80, 100, 120, 140, 160].map((kmh) => [String(kmh), expect.closeTo(1.5 * kmh - 120, 9)]),
    )
    expect(codes(answer)).toContain('points-without-uncertainty')
  })
  test('a measured dial: the points keep their angles, uncertainty on every mark, both scales, nothing before the pin', async () => {
    const answer = await scale(MEASURED)
    expect(answer.method).toBe('monotone-cubic')
    const main = answer.marks.filter(({ unit }) => unit === 'mph')
    const second = answer.marks.filter(({ unit }) => unit === 'kmh')
    expect(main.find(({ value }) => value === 50)!.angle.deg).toBeCloseTo(-23, 9)
    expect(main.find(({ value }) => value === 100)!.angle.deg).toBeCloseTo(84, 9)
    for (const { angle, speed, withinPoints } of answer.marks) {
      expect(angle.plusMinus!.deg).toBeGreaterThan(0.5)
      expect(speed.plusMinus!.mph).toBeGreaterThan(0.2)
      expect(angle.deg).toBeGreaterThanOrEqual(-130)
      expect(withinPoints).toBe(speed.mph > 9.999999 && speed.mph < 100.000001)
    }
    expect(second.at(-1)!.value).toBe(175)
    expect(answer.zeroStop!.angle.deg).toBeCloseTo(-130, 10)
    expect(answer.zeroStop!.speed.mph).toBeGreaterThan(0)
    expect(answer.budget.reduce((sum, { sharePercent }) => sum + sharePercent, 0)).toBeCloseTo(100, 9)
    expect(codes(answer)).toEqual(expect.arrayContaining(['marks-beyond-points', 'below-zero-stop']))
  })
  test('requested speeds and angles are inverse to each other', async () => {
    const { angleAt } = await scale({ ...MEASURED, speeds: [{ kmh: 50 }, { mph: 120 }] })
    expect(angleAt.map(({ withinPoints }) => withinPoints)).toEqual([true, false])
    const { speedAt } = await scale({ ...MEASURED, angles: angleAt.map(({ angle: { deg } }) => ({ deg })) })
    expect(speedAt[0]!.speed.kmh).toBeCloseTo(50, 8)
    expect(speedAt[1]!.speed.mph).toBeCloseTo(120, 8)
  })
  test('without graduations the finest common steps for the radius are used', async () => {
    const { graduations: _, ...rest } = LINEAR
    const steps = async (mm: number) =>
      (await scale({ ...rest, face: { radius: { mm } } })).scales[0]!.graduations
    expect(await steps(41)).toEqual({ number: 10, major: 5, minor: 1 })
    expect((await steps(15)).minor).toBeGreaterThan(2)
  })
  test('notes: close marks, coinciding ends, steps outside UN R39, small numbers, wide dial, pin before zero', async () => {
    const turn = { start: { deg: 0 }, end: { deg: 360 } }
    expect(
      codes(
        await scale({
          ...LINEAR,
          graduations: { number: 20, major: 10, minor: 1 },
          face: { radius: { mm: 30 } },
        }),
      ),
    ).toContain('marks-close')
    const around = await scale({ ...LINEAR, sweep: turn })
    expect(codes(around)).toContain('ends-meet')
    expect(around.marks.at(-1)!.label).toBeUndefined()
    expect(around.marks[0]!.label).toBe('0')
    expect(codes(await scale({ ...LINEAR, graduations: { number: 40, major: 20, minor: 20 } }))).toContain(
      'steps-outside-un-r39',
    )
    expect(
      codes(await scale({ ...LINEAR, graduations: { major: 40 }, face: { radius: { mm: 12 } } })),
    ).toContain('numbers-small')
    expect(codes(await scale({ ...LINEAR, face: { radius: { mm: 100 } } }))).toContain('wider-than-paper')
    const before = {
      ...LINEAR,
      max: { mph: 100 },
      points: [point(-100, 0), point(100, 100)],
      zeroStop: { deg: -110 },
    }
    expect(codes(await scale(before))).toContain('zero-stop-not-reached')
    expect((await scale(before)).zeroStop!.speed.mph).toBe(0)
  })
})

describe('problems name the field', () => {
  test.each([
    [
      '#/points/1/angle',
      'scale-points-not-advancing',
      { ...MEASURED, points: [point(0, 20), point(-30, 40)] },
    ],
    ['#/points', 'too-few-readings', { ...MEASURED, points: [point(0, 20)] }],
    ['#/sweep/end', 'out-of-range', { ...LINEAR, sweep: { start: { deg: 0 }, end: { deg: 361 } } }],
    ['#/max', 'scale-beyond-sweep', { ...MEASURED, max: { mph: 160 } }],
    [
      '#/from',
      'scale-beyond-sweep',
      { ...LINEAR, points: [point(-100, 10), point(100, 80)], max: { mph: 80 } },
    ],
    [
      '#/graduations/minor',
      'scale-marks-crowded',
      { ...LINEAR, graduations: { major: 10, minor: 1 }, face: { radius: { mm: 15 } } },
    ],
    ['#/graduations/number', 'scale-marks-crowded', { ...LINEAR, graduations: { major: 2 } }],
    [
      '#/graduations/number',
      'scale-steps-do-not-nest',
      { ...LINEAR, graduations: { number: 15, major: 10 } },
    ],
    [
      '#/secondScale/graduations/major',
      'scale-steps-do-not-nest',
      { ...MEASURED, secondScale: { graduations: { major: 10, minor: 3 } } },
    ],
    ['#/secondScale/radius', 'out-of-range', { ...MEASURED, secondScale: { radius: { mm: 41 } } }],
    ['#/zeroStop', 'out-of-range', { ...MEASURED, zeroStop: { deg: 140 } }],
    [
      '#/face/edgeDiameter',
      'out-of-range',
      { ...MEASURED, face: { radius: { mm: 42 }, edgeDiameter: { mm: 80 } } },
    ],
    [
      '#/face/window',
      'out-of-range',
      { ...MEASURED, face: { window: { width: { mm: 10 }, height: { mm: 5 }, down: { mm: 60 } } } },
    ],
    ['#/max', 'out-of-range', { ...LINEAR, from: { mph: 118 } }],
    ['#/from', 'out-of-range', { ...LINEAR, graduations: undefined, from: { mph: 120 } }],
    ['#/from', 'out-of-range', { ...LINEAR, from: { kmh: 320 } }],
  ])('%s: %s', async (pointer, code, body) => {
    expect(await refused(body, code)).toBe(pointer)
  })
})

test('a problem gives speeds and lengths in common units', async () => {
  const detail = async (body: unknown) =>
    (await post(app, '/v1/gauges/dial-scale', body)).body.detail as string
  // 42 mm less 0.11 and 0.03 of it, less the diagonal of 100: three times 0.65 by 0.8 of a font of 0.13 · 42 mm.
  const free = 42 * 0.86 - Math.hypot(3 * 0.65, 0.8) * 0.13 * 42
  expect(await detail({ ...MEASURED, secondScale: { radius: { mm: 41 } } })).toBe(
    `second.radius: expected at most ${Number(free.toPrecision(4))} mm, inside the numbers of the outer scale, got 41 mm`,
  )
  expect(await detail({ ...MEASURED, max: { mph: 100 }, from: { kmh: 160.9344 } })).toBe(
    'from: expected less than max, 100 mph, got 100 mph',
  )
})

describe('the drawing', () => {
  const mm = (element: Element, attribute: string) => Number(element.getAttribute(attribute))

  test('is SVG in millimeters: width and height are those of the viewBox, in whole half inches', async () => {
    const response = await draw(MEASURED)
    expect(response.headers['content-type']).toBe('image/svg+xml; charset=utf-8')
    expect(response.headers.vary).toContain('accept')
    const svg = (await drawing(MEASURED)).querySelector('svg')!
    const [left, top, width, height] = svg.getAttribute('viewBox')!.split(' ').map(Number)
    expect(svg.getAttribute('width')).toBe(`${width}mm`)
    expect(svg.getAttribute('height')).toBe(`${height}mm`)
    expect(left).toBe(-width! / 2)
    expect(top).toBeLessThan(-50)
    for (const side of [width!, height!]) expect(side / 12.7).toBeCloseTo(Math.round(side / 12.7), 9)
  })
  test('both scales of a counterclockwise dial follow the angles of one pointer: 120° − 3°·v/mph', async () => {
    const body = {
      sweep: { start: { deg: 120 }, end: { deg: -120 } },
      unit: 'mph',
      max: { mph: 80 },
      graduations: { number: 10, major: 10, minor: 5 },
      secondScale: { graduations: { number: 20, major: 20, minor: 10 } },
    }
    const document = await drawing(body)
    for (const [unit, mph, count] of [
      ['mph', 1, 17],
      ['kmh', 1 / 1.609344, 13],
    ] as const) {
      const lines = Array.from(document.querySelectorAll(`#scale-${unit} line`))
      expect(lines.length).toBe(count)
      const found = lines
        .map((line) => (Math.atan2(mm(line, 'x1'), -mm(line, 'y1')) * 180) / Math.PI)
        .sort((a, b) => b - a)
      const step = unit === 'mph' ? 5 : 10
      // Ends are drawn to a tenth of a micrometer, on radii of 20 mm and more.
      for (const [index, angle] of found.entries()) expect(angle).toBeCloseTo(120 - 3 * index * step * mph, 3)
    }
    expect(document.querySelector('#instructions')?.textContent).toContain('Sweep 120° to −120°')
  })
  test('marks lie at r·sin θ, −r·cos θ, from 42 mm to 42 − 4.62 or 42 − 2.73 mm', async () => {
    const { marks } = await scale(MEASURED)
    const main = marks.filter(({ unit }) => unit === 'mph')
    const lines = Array.from((await drawing(MEASURED)).querySelectorAll('#scale-mph line'))
    expect(lines).toHaveLength(main.length)
    for (const { angle, kind } of main) {
      const theta = (angle.deg * Math.PI) / 180
      const inner = kind === 'minor' ? 42 - 2.73 : 42 - 4.62
      const found = lines.filter(
        (line) =>
          Math.abs(mm(line, 'x1') - 42 * Math.sin(theta)) < 1e-3 &&
          Math.abs(mm(line, 'y1') + 42 * Math.cos(theta)) < 1e-3 &&
          Math.abs(mm(line, 'x2') - inner * Math.sin(theta)) < 1e-3 &&
          Math.abs(mm(line, 'y2') + inner * Math.cos(theta)) < 1e-3,
      )
      expect(found, `mark at ${angle.deg}`).toHaveLength(1)
    }
  })
  test('bars of exactly 50 mm and 25.4 mm, labelled, and the word to print at 100 %', async () => {
    const document = await drawing(LINEAR)
    const bars = Array.from(document.querySelectorAll('#check path')).map((bar) => bar.getAttribute('d')!)
    expect(bars.map((d) => Number(/h([\d.]+)/.exec(d)![1]))).toEqual([50, 25.4])
    expect(Array.from(document.querySelectorAll('#check text')).map((text) => text.textContent)).toEqual([
      '50 mm',
      '1 in',
    ])
    const words = document.querySelector('#instructions')!.textContent!
    expect(words).toContain('Print at 100 %')
    expect(words).toContain('measure both bars')
  })
  test('cuts are dashed, in their sizes', async () => {
    const cuts = (await drawing(MEASURED)).querySelector('#cuts g')!
    expect(cuts.getAttribute('stroke-dasharray')).toBeTruthy()
    expect(Array.from(cuts.querySelectorAll('circle')).map((circle) => mm(circle, 'r'))).toEqual([50, 3])
    const window = cuts.querySelector('rect')!
    expect(['x', 'y', 'width', 'height'].map((name) => mm(window, name))).toEqual([-10, 26, 22, 6])
  })
  test('has a title, a description with the cautions, one color, no script, no style, no link', async () => {
    const { body } = await draw(MEASURED)
    const svg = (await drawing(MEASURED)).querySelector('svg')!
    expect(svg.getAttribute('aria-labelledby')).toBe('title description')
    expect(svg.querySelector('#title')!.textContent).toContain('mph and km/h')
    expect(svg.querySelector('#description')!.textContent).toContain('It does not correct a wrong ratio')
    expect(body).not.toMatch(/<script|<style|style=|href|\son\w+=|url\(/i)
    const colors = [...body.matchAll(/(?:fill|stroke)="([^"]*)"/g)].map(([, color]) => color)
    expect(new Set(colors)).toEqual(new Set(['none', 'black']))
    expect((await draw(MEASURED)).body).toBe(body)
  })
  test('the dial shows the units and every number of both scales', async () => {
    const document = await drawing(MEASURED)
    expect(
      Array.from(document.querySelectorAll('#unit-labels text')).map((text) => text.textContent),
    ).toEqual(['mph', 'km/h'])
    const numbers = Array.from(document.querySelectorAll('#scale-mph text')).map((text) => text.textContent)
    expect(numbers).toEqual(['10', '20', '30', '40', '50', '60', '70', '80', '90', '100', '110'])
  })
  test.each([
    [{ start: { deg: -120 }, end: { deg: 120 } }, /A40 40 0 1 1 /],
    [{ start: { deg: 120 }, end: { deg: -120 } }, /A40 40 0 1 0 /],
    [{ start: { deg: -60 }, end: { deg: 60 } }, /A40 40 0 0 1 /],
  ])('the arc of a sweep %j has the right direction', async (sweep, arc) => {
    const document = await drawing({ ...LINEAR, sweep, graduations: { major: 20 } })
    expect(document.querySelector('#scale-mph path')!.getAttribute('d')).toMatch(arc)
  })
  test('unit names near the center state their scale', async () => {
    const sweep = { start: { deg: 0 }, end: { deg: 340 } }
    const { unitLabels } = await scale({ ...LINEAR, sweep, secondScale: {} })
    expect(unitLabels.map(({ text }) => text)).toEqual(['outer mph', 'inner km/h'])
    expect((await scale({ ...LINEAR, sweep })).unitLabels.map(({ text }) => text)).toEqual(['mph'])
  })
  test('a full-circle sweep has a circle', async () => {
    const sweep = { start: { deg: 90 }, end: { deg: -270 } }
    const document = await drawing({ ...LINEAR, sweep })
    expect(mm(document.querySelector('#scale-mph circle')!, 'r')).toBe(40)
  })
  test('another media type is 406 with the list of those available', async () => {
    const problem = expectProblem(await draw(LINEAR, 'image/png'), 406, 'not-acceptable')
    expect(problem.detail).toContain('image/svg+xml')
  })
})
