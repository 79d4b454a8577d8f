import { afterAll, describe, expect, test } from 'vitest'
import type { Block } from '../../src/paper/sheet.js'
import { worksheetSheet } from '../../src/paper/worksheet-sheet.js'
import { post, testApp } from '../support/app.js'
import { exampleProfile } from '../support/worksheet-vehicles.js'

const app = await testApp()
afterAll(() => app.close())

const MILE_KM = 1.609344

const flat = (blocks: readonly Block[]): Block[] =>
  blocks.flatMap((block) => (block.kind === 'beside' ? flat([...block.left, ...block.right]) : [block]))

/** What stands on paper, with plain blanks and heads on one line. */
async function printed(profile: unknown) {
  const answer = await post(app, '/v1/vehicle-checks/worksheet', profile)
  expect(answer.status).toBe(200)
  const blocks = worksheetSheet(answer.body).sections.flatMap((section) => flat(section.blocks))
  const plain = (text: string) => text.replaceAll(/[\u{A0}\n]/gu, ' ')
  const table = (start: string) => {
    const found = blocks.find((block) => block.kind === 'table' && block.caption.startsWith(start))
    if (found?.kind !== 'table') throw new RangeError(`no table ${start}`)
    return {
      caption: found.caption,
      heads: found.columns.map(({ head }) => plain(head)),
      rows: found.rows.map((row) => row.map(plain)),
    }
  }
  const facts = new Map(
    blocks.flatMap((block) =>
      block.kind === 'facts' ? block.facts.map(({ name, value }) => [name, plain(value)] as const) : [],
    ),
  )
  const items = blocks.flatMap((block) => (block.kind === 'list' ? block.items.map(plain) : []))
  const links = blocks.flatMap((block) =>
    block.kind === 'chain'
      ? block.links.map(({ name, lines, flow }) => [name, ...lines, ...flow].map(plain))
      : [],
  )
  return { table, facts, items, links }
}

type Row = readonly string[]
const startingWith = (rows: readonly Row[], first: string) => rows.find(([cell]) => cell === first)

/** The digits that a person writes, with a sign where one is due. */
const fixed = (value: number, decimals: number) => value.toFixed(decimals).replace('-', '−')
const withSign = (value: number, decimals: number) => (value > 0 ? '+' : '') + fixed(value, decimals)

describe('pulses: 1988 ± 4 mm, 16 per turn times 5/8, 8000 per mile, no error of the head', () => {
  const perMile = ((1_609_344 / 1988) * 16 * 5) / 8
  const perTrue = perMile / 8000
  /** 95 %, of what is shown. */
  const relative = 4 / 1988

  test('true and indicated speed, error and uncertainty at a true 60 mph, each in its column', async () => {
    const { heads, rows } = (await printed(exampleProfile('pulse-ring-display.json'))).table('True')
    const shown = 60 * perTrue
    const uncertainty = shown * relative
    expect(heads).toEqual([
      'True mph',
      'True km/h',
      'Dial mph',
      'Dial km/h',
      'Error mph',
      'Error km/h',
      'Error %',
      '± mph',
      '± km/h',
      'Pulses Hz',
      'Verdict',
    ])
    expect(startingWith(rows, '60')).toEqual([
      '60',
      fixed(60 * MILE_KM, 1),
      fixed(shown, 2),
      fixed(shown * MILE_KM, 2),
      withSign(shown - 60, 2),
      withSign((shown - 60) * MILE_KM, 2),
      withSign((perTrue - 1) * 100, 2),
      fixed(uncertainty, 2),
      fixed(uncertainty * MILE_KM, 2),
      // 60 mph are a mile a minute.
      fixed(perMile / 60, 2),
      'allowed',
    ])
  })

  test('the bench uses the constant of the head; the limits are those of the named rule', async () => {
    const { caption, heads, rows } = (await printed(exampleProfile('pulse-ring-display.json'))).table(
      'On the bench',
    )
    expect(heads).toEqual(['Mark mph', 'Mark km/h', 'Pulses Hz', 'Shows mph', 'Allowed', 'Reading'])
    // TM 9-1829A: 60 to 63 at 60 mph.
    expect(startingWith(rows, '60')).toEqual([
      '60',
      fixed(60 * MILE_KM, 1),
      fixed(8000 / 60, 1),
      '60',
      '60 to 63',
      '',
    ])
    // Found 2026-11: "allowed by us-army-bench-1944".
    expect(caption).toMatch(/; allowed by the rule \(US Army bench readings of 1944, TM 9-1829A\)$/)
  })

  test('on the road a mile takes 3600 s over the true speed', async () => {
    const { heads, rows } = (await printed(exampleProfile('pulse-ring-display.json'))).table('On the road')
    expect(heads.slice(0, 4)).toEqual(['Hold at mph', 'True mph', 'True km/h', '1 mile in s'])
    const trueMph = 60 / perTrue
    const seconds = 3600 / trueMph
    expect(startingWith(rows, '60')?.slice(0, 4)).toEqual([
      '60',
      `${fixed(trueMph, 2)} ± ${fixed(trueMph * relative, 2)}`,
      `${fixed(trueMph * MILE_KM, 2)} ± ${fixed(trueMph * MILE_KM * relative, 2)}`,
      `${fixed(seconds, 2)} ± ${fixed(seconds * relative, 2)}`,
    ])
  })

  test('turns and pulses after each link', async () => {
    const turns = 1e6 / 1988
    expect((await printed(exampleProfile('pulse-ring-display.json'))).links).toEqual([
      [
        'rear wheel',
        `${fixed(turns, 1)} ± 1.0 turns/km`,
        `${fixed(turns * MILE_KM, 1)} ± ${fixed(turns * MILE_KM * relative, 1)} turns/mile`,
      ],
      [
        'ring on the axle shaft',
        'pulse ring',
        '16 pulses per turn',
        '× 16',
        `${fixed(turns * 16, 0)} ± ${fixed(turns * 16 * relative, 0)} pulses/km`,
        `${fixed(turns * 16 * MILE_KM, 0)} ± ${fixed(turns * 16 * MILE_KM * relative, 0)} pulses/mile`,
      ],
      [
        'scaler',
        'pulse scaler',
        '5 out for 8 in',
        '× 0.625',
        `${fixed(turns * 10, 0)} ± ${fixed(turns * 10 * relative, 0)} pulses/km`,
        `${fixed(perMile, 0)} ± ${fixed(perMile * relative, 0)} pulses/mile`,
      ],
      ['display', 'head', 'reads true at', `${fixed(8000 / MILE_KM, 0)} pulses/km`, '8000 pulses/mile'],
    ])
  })

  test('the error of the odometer, and the resolution of the timer with two digits', async () => {
    const { facts } = await printed(exampleProfile('pulse-ring-display.json'))
    expect(facts.get('Odometer')).toBe(
      `over-reads by ${fixed((perTrue - 1) * 100, 2)} ± ${fixed(perTrue * relative * 100, 2)} %`,
    )
    // One microsecond of a period at a true 120 mph: v² · pulses a distance · Δt.
    const stepMph = 120 * 1e-6 * ((perMile * 120) / 3600)
    expect(facts.get('Resolution at top speed')).toBe(
      `${fixed(stepMph, 3)} mph, ${fixed(stepMph * MILE_KM, 3)} km/h`,
    )
  })
})

describe('a dial in km/h: 6.40-14 of 666 mm, a drive of 5:4, 585 ± 6 turns a km, 1 ± 1 km/h at standstill', () => {
  test('its unit comes first everywhere', async () => {
    const { table, facts, items } = await printed(exampleProfile('wheel-driven-cable.json'))
    expect(facts.get('Top speed')).toBe(`120 km/h, ${fixed(120 / MILE_KM, 1)} mph`)
    expect(facts.get('Last mark on the dial')).toBe(`130 km/h, ${fixed(130 / MILE_KM, 1)} mph`)
    expect(items).toContain(
      `speedometer: offset of the head (reading at standstill): 1.0 ± 1.0 km/h, ${fixed(1 / MILE_KM, 2)} ± ${fixed(1 / MILE_KM, 2)} mph (measured)`,
    )
    const row = startingWith(table('True').rows, '100')
    const shown = (100 * 1.25e6) / (2.99 * 666) / 585 + 1
    expect(row?.slice(0, 6)).toEqual([
      '100',
      fixed(100 / MILE_KM, 1),
      fixed(shown, 1),
      fixed(shown / MILE_KM, 1),
      withSign(shown - 100, 1),
      withSign((shown - 100) / MILE_KM, 1),
    ])
    // 585 turns a km at 60 km/h are 585 a minute; the uncertainty of the constant goes along.
    expect(startingWith(table('On the bench').rows, '60')?.slice(0, 4)).toEqual([
      '60',
      fixed(60 / MILE_KM, 1),
      '585.0 ± 6.0',
      '61.0 ± 1.0',
    ])
  })

  test('and that of a dial in mph comes first for a head with an offset in km/h', async () => {
    const profile = exampleProfile('cable-changed-axle.json')
    profile.paths[0].head.offset = { kmh: 1.609344, plusMinus: 1.609344 }
    const { items } = await printed(profile)
    expect(items).toContain(
      'speedometer: offset of the head (reading at standstill): 1.0 ± 1.0 mph, 1.6 ± 1.6 km/h (measured)',
    )
  })
})

describe('turns: 175/70R13 worn by 2 mm, 37/9, 6/20, 1000 a mile', () => {
  test('cable rpm is that of the path on the road, and that of the head on the bench', async () => {
    const { table } = await printed(exampleProfile('cable-changed-axle.json'))
    const rollingMm = 3.05 * (13 * 25.4 + 2 * 175 * 0.7) - 2 * Math.PI * 2 * (5 / 6)
    const perMile = (((1_609_344 / rollingMm) * 37) / 9) * (6 / 20)
    const driven = table('True')
    expect(driven.heads[9]).toBe('Cable rpm')
    expect(startingWith(driven.rows, '60')?.[9]).toBe(fixed(perMile, 0))
    expect(startingWith(table('On the bench').rows, '60')?.[2]).toBe('1000')
  })

  test('one path needs no column for its name; two do', async () => {
    const profile = exampleProfile('cable-changed-axle.json')
    expect((await printed(profile)).table('What puts').heads[0]).toBe('What to do')
    profile.paths.push({ ...profile.paths[0], name: 'second dial' })
    const { heads, rows } = (await printed(profile)).table('What puts')
    expect(heads.slice(0, 2)).toEqual(['Path', 'What to do'])
    expect(new Set(rows.map(([path]) => path))).toEqual(new Set(['speedometer', 'second dial']))
  })
})

describe('the road test', () => {
  test('has blank rows if no mark can be reached: the dial shows a tenth, the car does 85 mph', async () => {
    const profile = exampleProfile('cable-changed-axle.json')
    profile.paths[0].head.constant = { perMile: 12_000 }
    const { rows } = (await printed(profile)).table('On the road')
    expect(rows).toEqual(Array.from({ length: 4 }, () => ['', '', '', '', '', '', '']))
  })
})
