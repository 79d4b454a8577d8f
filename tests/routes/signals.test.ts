import { afterAll, describe, expect, test } from 'vitest'
import { plannedLog } from '../../tools/pulse-log.js'
import { post, testApp } from '../support/app.js'

const app = await testApp()
afterAll(() => app.close())

const DRIVE = {
  pulses: { perKm: 4000 },
  ring: { pulsesPerTurn: 8, rms: 0.02 },
  profile: [
    { t: { s: 0 }, speed: { kmh: 72 } },
    { t: { s: 1000 }, speed: { kmh: 72 } },
  ],
  filter: { factor: 0.25 },
  display: { every: { ms: 500 } },
}

describe('POST /v1/signals/filter-design', () => {
  test('answers range, recommendation and shift in the units of the request', async () => {
    const { status, body } = await post(app, '/v1/signals/filter-design', {
      sampling: { frequency: { hz: 10 } },
      noise: { kmh: 1 },
      limits: { noiseAfter: { kmh: 0.5 }, lag: { ms: 300 } },
    })
    expect(status).toBe(200)
    // a/(2 − a) = 1/4 and (1 − a)/a = 3
    expect(body.factor.min).toBeCloseTo(0.25, 9)
    expect(body.factor.max).toBeCloseTo(0.4, 9)
    expect(body.recommended).toMatchObject({
      basis: 'within-range',
      shift: 2,
      shiftFactor: 0.25,
      meets: true,
    })
    expect(body.sources).toContain('nist-ewma')
  })

  test('names the faulty field', async () => {
    const missing = await post(app, '/v1/signals/filter-design', {
      sampling: { frequency: { hz: 10 } },
      noise: { kmh: 1 },
    })
    expect(missing.status).toBe(422)
    expect(missing.body).toMatchObject({ code: 'filter-limits-missing', errors: [{ pointer: '#/limits' }] })
    const both = await post(app, '/v1/signals/filter-design', {
      sampling: { frequency: { hz: 10 }, pulses: { perKm: 4000 }, speed: { kmh: 50 } },
      noise: { kmh: 1 },
      factor: 0.5,
    })
    expect(both.status).toBe(400)
  })
})

// Until 2026-11 it was accepted and had no effect: { kmh: 0.4, plusMinus: 0.1 } was answered as { kmh: 0.4 }.
test.each([
  [
    'limits.noiseAfter',
    '/v1/signals/filter-design',
    {
      sampling: { frequency: { hz: 10 } },
      noise: { kmh: 1 },
      limits: { noiseAfter: { kmh: 0.4, plusMinus: 0.1 } },
    },
    '#/limits/noiseAfter/plusMinus',
  ],
  [
    'tick',
    '/v1/signals/log-analysis',
    {
      periods: Array.from({ length: 60 }, (_, i) => 625 + (i % 3)),
      tick: { us: 4, plusMinus: 1 },
      pulsesPerTurn: 4,
    },
    '#/tick/plusMinus',
  ],
] as const)('an uncertainty of %s, which is set, is refused', async (_, url, request, pointer) => {
  const { status, body } = await post(app, url, request)
  expect(status).toBe(400)
  expect(body.errors).toMatchObject([{ pointer, code: 'unknown-field' }])
})

describe('POST /v1/signals/simulation', () => {
  test('a long drive runs in a worker thread and gives the same answer twice', async () => {
    const answers = await Promise.all([
      post(app, '/v1/signals/simulation', DRIVE),
      post(app, '/v1/signals/simulation', DRIVE),
    ])
    expect(answers[0]!.status, JSON.stringify(answers[0]!.body).slice(0, 300)).toBe(200)
    // 72 km/h for 1000 s are 20 km: 80 000 pulses
    expect(answers[0]!.body.pulses).toBe(80_000)
    expect(answers[1]!.body).toEqual(answers[0]!.body)
  })

  test('2 million pulses do not block other requests', async () => {
    const long = {
      ...DRIVE,
      profile: [DRIVE.profile[0]!, { t: { s: 24_900 }, speed: { kmh: 72 } }],
      missed: 0.01,
    }
    let finished = false
    const simulation = post(app, '/v1/signals/simulation', long).then((answer) => {
      finished = true
      return answer
    })
    // Requests that come while it runs are answered before it: counted, not timed.
    let answered = 0
    while (!finished && answered < 20) {
      const { status } = await post(app, '/v1/tires/geometry', { tire: { size: '195/70R14' } })
      expect(status).toBe(200)
      if (!finished) answered++
    }
    const { status, body } = await simulation
    expect(status).toBe(200)
    expect(body.pulses).toBeGreaterThan(1_900_000)
    // A blocked service answers none until the simulation ends; how many fit in beside it depends on the machine.
    expect(answered).toBeGreaterThanOrEqual(2)
  })

  test('more than 2 million pulses are refused before anything runs, with the count and the limit', async () => {
    const { status, body } = await post(app, '/v1/signals/simulation', {
      ...DRIVE,
      profile: [DRIVE.profile[0]!, { t: { s: 26_000 }, speed: { kmh: 72 } }],
    })
    expect(status).toBe(422)
    expect(body).toMatchObject({ code: 'simulation-too-long', errors: [{ pointer: '#/profile' }] })
    expect(body.detail).toContain('2000000')
  })

  test('a fault found in the worker thread comes back with its code and field', async () => {
    const { status, body } = await post(app, '/v1/signals/simulation', {
      ...DRIVE,
      ring: { pulsesPerTurn: 3, errors: [0.1, -0.1] },
    })
    expect(status).toBe(422)
    expect(body).toMatchObject({ code: 'ring-errors-count', errors: [{ pointer: '#/ring/errors' }] })
  })

  test('times out of order and an empty filter are refused', async () => {
    const order = await post(app, '/v1/signals/simulation', {
      ...DRIVE,
      profile: [DRIVE.profile[1]!, DRIVE.profile[0]!],
    })
    expect(order.body).toMatchObject({
      code: 'times-not-increasing',
      errors: [{ pointer: '#/profile/1/t' }],
    })
    const empty = await post(app, '/v1/signals/simulation', { ...DRIVE, filter: {} })
    expect(empty.status).toBe(400)
    expect(empty.body.errors[0].pointer).toBe('#/filter')
    const strong = await post(app, '/v1/signals/simulation', { ...DRIVE, filter: { factor: 1.5 } })
    expect(strong.body).toMatchObject({
      status: 422,
      code: 'filter-factor-out-of-range',
      errors: [{ pointer: '#/filter/factor' }],
    })
  })
})

const ERRORS = [0.04, -0.03, 0.05, -0.06, 0.03, 0.045, -0.035, -0.04]
const LOG = plannedLog({ errors: ERRORS, turns: 60, missed: 0.01, extra: 0.01, edgeJitter: 0.002 })

const postCsv = async (query: string, payload: string | Buffer) => {
  const response = await app.inject({
    method: 'POST',
    url: `/v1/signals/log-analysis/csv?${query}`,
    headers: { 'content-type': 'text/csv' },
    payload,
  })
  return { status: response.statusCode, body: response.json() }
}

describe('POST /v1/signals/log-analysis', () => {
  test('periods, times and a table of the same log give the same answer', async () => {
    const times = await post(app, '/v1/signals/log-analysis', {
      times: LOG.timesUs,
      unit: 'us',
      pulsesPerTurn: 8,
    })
    expect(times.status, JSON.stringify(times.body).slice(0, 300)).toBe(200)
    expect(times.body.missed.map((place: { index: number }) => place.index)).toEqual(LOG.missed)
    expect(times.body.extra.map((place: { index: number }) => place.index)).toEqual(LOG.extra)
    for (const [gap, error] of ERRORS.entries()) {
      expect(Math.abs(times.body.ring.gaps[gap].error / error - 1)).toBeLessThan(0.1)
    }
    const periods = await post(app, '/v1/signals/log-analysis', {
      periods: LOG.timesUs.slice(1).map((time, i) => (time - LOG.timesUs[i]!) / 4),
      tick: { us: 4 },
      pulsesPerTurn: 8,
    })
    expect(periods.body.ring.rms).toBeCloseTo(times.body.ring.rms, 9)
    const table = `pulse,"time, us",level\r\n${LOG.timesUs.map((time, i) => `${i},${time},1`).join('\r\n')}\r\n`
    const csv = await postCsv(`column=${encodeURIComponent('time, us')}&unit=us&pulsesPerTurn=8`, table)
    expect(csv.status, JSON.stringify(csv.body).slice(0, 300)).toBe(200)
    expect(csv.body).toEqual(times.body)
    const numbered = await postCsv(
      'column=2&unit=us&pulsesPerTurn=8&delimiter=semicolon',
      table.replaceAll('"time, us"', 'time').replaceAll(',', ';'),
    )
    expect(numbered.body).toEqual(times.body)
  })

  test('a long log runs in a worker thread, as JSON and as a table', async () => {
    const long = plannedLog({ errors: ERRORS, turns: 2000, edgeJitter: 0.002 })
    const json = await post(app, '/v1/signals/log-analysis', {
      times: long.timesUs,
      unit: 'us',
      pulsesPerTurn: 8,
      pulses: { perKm: 4000 },
    })
    expect(json.status, JSON.stringify(json.body).slice(0, 300)).toBe(200)
    expect(json.body.series[0].name).toBe('speed')
    const csv = await postCsv('unit=us&pulsesPerTurn=8&pulsesPerKm=4000', `${long.timesUs.join('\n')}\n`)
    expect(csv.body).toEqual(json.body)
  })

  test('faults of a table are reported: column, cell, quotes, settings', async () => {
    const settings = 'unit=us&pulsesPerTurn=8'
    expect((await postCsv(`column=speed&${settings}`, 'a,b\n1,2\n')).body).toMatchObject({
      code: 'csv-column-missing',
      errors: [{ in: 'query', pointer: '#/column' }],
    })
    const cell = await postCsv(settings, '1\n2\nn/a\n4\n')
    expect(cell.body.code).toBe('csv-cell-not-a-number')
    expect(cell.body.detail).toContain('row 3')
    expect((await postCsv(settings, '1\n"2\n3\n')).body.code).toBe('csv-not-understood')
    expect((await postCsv(settings, '1\n2,5\n')).body.code).toBe('csv-not-understood')
    const missing = await postCsv('unit=us', '1\n2\n')
    expect(missing.status).toBe(400)
    expect(missing.body.errors).toEqual([
      {
        in: 'query',
        pointer: '#/pulsesPerTurn',
        code: 'missing',
        detail: 'is required: Pulses that the ring gives in one turn.',
      },
    ])
    expect((await postCsv(`${settings}&tickUs=4`, '1\n')).body.code).toBe('log-unit-ambiguous')
    expect((await postCsv(settings, '')).status).toBeGreaterThanOrEqual(400)
  })

  describe('a heading that names periods or another unit requires that setting (until 2026-11 the column was read as times in seconds)', () => {
    const periods = LOG.timesUs.slice(1).map((time, i) => time - LOG.timesUs[i]!)
    const table = (heading: string, values: readonly number[]) => `${heading}\n${values.join('\n')}\n`

    test('period_us without settings: 422, where the answer was times-not-increasing on a sound log', async () => {
      const { status, body } = await postCsv('pulsesPerTurn=8', table('period_us', periods))
      expect(status).toBe(422)
      expect(body).toMatchObject({
        code: 'log-heading-differs',
        errors: [{ in: 'query', pointer: '#/content' }],
      })
      expect(body.detail).toContain('content=periods')
      expect(body.detail).toContain('unit=us')
    })

    test.each([
      ['period_us', 'unit=us', '#/content', 'content=periods'],
      ['Interval', '', '#/content', 'content=periods'],
      ['dt', '', '#/content', 'content=periods'],
      ['periodUs', 'content=periods', '#/unit', 'unit=us'],
      ['time [ms]', '', '#/unit', 'unit=ms'],
      ['time (µs)', '', '#/unit', 'unit=us'],
      ['ticks', '', '#/tickUs', 'tickUs'],
    ])('%s with "%s" names %s', async (heading, settings, pointer, said) => {
      const { status, body } = await postCsv(
        `pulsesPerTurn=8${settings && `&${settings}`}`,
        table(heading, LOG.timesUs),
      )
      expect(status).toBe(422)
      expect(body.errors).toMatchObject([{ pointer }])
      expect(body.detail).toContain(said)
    })

    test('explicit settings override the heading', async () => {
      const said = await postCsv('pulsesPerTurn=8&content=periods&unit=us', table('period_us', periods))
      expect(said.status).toBe(200)
      const plain = await postCsv('pulsesPerTurn=8&content=periods&unit=us', `${periods.join('\n')}\n`)
      expect(said.body).toEqual(plain.body)
      const times = await postCsv('pulsesPerTurn=8&content=times&unit=us', table('period_us', LOG.timesUs))
      expect(times.status).toBe(200)
    })

    test.each(['time', 'time_s', 'pulse', 'status', 'pulses'])(
      '%s is taken as times in seconds',
      async (heading) => {
        const seconds = LOG.timesUs.map((time) => time / 1e6)
        expect((await postCsv('pulsesPerTurn=8', table(heading, seconds))).status).toBe(200)
      },
    )
  })

  test('settings of a table are refused with a JSON log', async () => {
    const { status, body } = await post(app, '/v1/signals/log-analysis?unit=us', {
      times: LOG.timesUs,
      pulsesPerTurn: 8,
    })
    expect(status).toBe(400)
    expect(body.errors[0]).toMatchObject({ in: 'query', pointer: '#/unit' })
  })

  test('only this operation accepts a table', async () => {
    const response = await app.inject({
      method: 'POST',
      url: '/v1/signals/simulation',
      headers: { 'content-type': 'text/csv' },
      payload: '1\n2\n',
    })
    expect(response.statusCode).toBe(415)
  })

  test('16 MiB are accepted, one byte more is not', async () => {
    const row = '1234567\n'
    const over = Buffer.alloc(16 * 1024 * 1024 + 1, row)
    expect((await postCsv('pulsesPerTurn=8', over)).status).toBe(413)
  })
})

describe('closing', () => {
  test('an application that has run a long computation closes, with its worker threads', async () => {
    const own = await testApp()
    expect((await post(own, '/v1/signals/simulation', DRIVE)).status).toBe(200)
    await own.close()
  })
})
