import { Type } from '@sinclair/typebox'
import fc from 'fast-check'
import { afterAll, describe, expect, test } from 'vitest'
import { Stage } from '../../src/schemas/drive-stages.js'
import { ref } from '../../src/schemas/named-shapes.js'
import { Tire } from '../../src/schemas/tires.js'
import { VehicleProfile } from '../../src/schemas/vehicles.js'
import { post, testApp } from '../support/app.js'
import { expectProblem } from '../support/problem.js'
import { aVehicle } from '../support/vehicles.js'

const app = await testApp()
app.get(
  '/numbers',
  {
    schema: {
      querystring: Type.Object(
        { n: Type.Optional(Type.Integer({ minimum: 1, maximum: 100 })), flag: Type.Optional(Type.Boolean()) },
        { additionalProperties: false },
      ),
    },
  },
  (request) => request.query,
)
app.post(
  '/list',
  { schema: { body: Type.Object({ to: Type.Array(ref(Tire), { maxItems: 20 }) }) } },
  () => 'ok',
)
app.post('/stage', { schema: { body: ref(Stage) } }, () => 'ok')
await app.ready()
afterAll(() => app.close())

const geometry = (body: unknown) =>
  app.inject({
    method: 'POST',
    url: '/v1/tires/geometry',
    headers: { 'content-type': 'application/json' },
    payload: typeof body === 'string' ? body : JSON.stringify(body),
  })

const withDiameter = (value: string) => `{"tire":{"overallDiameter":{"mm":${value}}}}`

// Found 2026-11: 1e400 was refused with "expected a number, got null", although nobody had sent null.
test.each(['1e400', '-1e400'])(
  'a length of %s is refused as what it is: beyond every number that is read',
  async (value) => {
    const problem = expectProblem(await geometry(withDiameter(value)), 400, 'invalid-request')
    expect(problem.errors).toEqual([
      {
        in: 'body',
        pointer: '#/tire/overallDiameter/mm',
        code: 'wrong-type',
        // The largest double is 1.797...e308 (IEEE 754).
        detail: 'expected a number, got a number outside ±1.8e308',
      },
    ])
  },
)

// Found 2026-11: with a limit of bodies raised that far, the pattern of the field ran out of stack on it; the answer was 500 `internal`.
test('a text of 16 million characters is too long, whatever its other faults', async () => {
  const large = await testApp({ BODIES_BYTES_PER_CALLER: '67108864' })
  large.post('/vehicle', { bodyLimit: 67_108_864, schema: { body: ref(VehicleProfile) } }, () => 'ok')
  const vehicle = aVehicle({ notes: 'é'.repeat(16_000_000) })
  const answer = await large.inject({ method: 'POST', url: '/vehicle', payload: vehicle })
  expect(expectProblem(answer, 400, 'invalid-request').errors).toEqual([
    {
      in: 'body',
      pointer: '#/notes',
      code: 'wrong-length',
      detail: 'expected at most 10000 characters, got 16000000',
    },
  ])
  await large.close()
})

describe('nothing in a body is coerced', () => {
  const values = ['"650"', '"0x10"', '""', 'null', 'true', 'false', '[650]', '{"value":650}', '"650 mm"']
  for (const value of values) {
    test(`a length of ${value} is a wrong type`, async () => {
      const problem = expectProblem(await geometry(withDiameter(value)), 400, 'invalid-request')
      expect(problem.errors).toEqual([
        expect.objectContaining({
          in: 'body',
          pointer: '#/tire/overallDiameter/mm',
          code: 'wrong-type',
          detail: expect.stringMatching(/^expected a number, got /),
        }),
      ])
    })
  }

  for (const value of ['165', 'null', 'true', '["165R15"]', '{}']) {
    test(`a size of ${value} is a wrong type`, async () => {
      const problem = expectProblem(await geometry(`{"tire":{"size":${value}}}`), 400, 'invalid-request')
      expect(problem.errors).toEqual([
        expect.objectContaining({ pointer: '#/tire/size', code: 'wrong-type' }),
      ])
    })
  }

  for (const body of ['null', '[]', '"text"', '1', 'true', '[{"tire":{"size":"165R15"}}]']) {
    test(`the body ${body} is not an object`, async () => {
      const problem = expectProblem(await geometry(body), 400, 'invalid-request')
      expect(problem.errors).toEqual([expect.objectContaining({ pointer: '#', code: 'wrong-type' })])
    })
  }

  test('no body at all is not an object either', async () => {
    const problem = expectProblem(
      await app.inject({ method: 'POST', url: '/v1/tires/geometry' }),
      400,
      'invalid-request',
    )
    expect(problem.errors?.[0]?.pointer).toBe('#')
  })
})

describe('nothing in a body is dropped', () => {
  const cases: ReadonlyArray<readonly [string, unknown, string]> = [
    ['at the top', { tire: { size: '165R15' }, extra: 1 }, '#/extra'],
    ['in a branch of a choice', { tire: { size: '165R15', colour: 'black' } }, '#/tire/colour'],
    ['in a measure', { tire: { size: '165R15', wear: { mm: 1, note: 'x' } } }, '#/tire/wear/note'],
    [
      'a misspelt uncertainty',
      { tire: { overallDiameter: { mm: 650, plusminus: 1 } } },
      '#/tire/overallDiameter/plusminus',
    ],
  ]
  for (const [name, body, pointer] of cases) {
    test(`an unknown field ${name} is named`, async () => {
      const problem = expectProblem(await geometry(body), 400, 'invalid-request')
      expect(problem.errors).toEqual([expect.objectContaining({ pointer, code: 'unknown-field' })])
    })
  }

  test('a key with ~, / and % is named as RFC 6901 section 6 writes it', async () => {
    const problem = expectProblem(
      await geometry({ tire: { size: '165R15' }, 'a/b~c%': 1 }),
      400,
      'invalid-request',
    )
    expect(problem.errors?.[0]?.pointer).toBe('#/a~1b~0c%25')
  })

  test('a second unit key is refused at the measure', async () => {
    const problem = expectProblem(
      await geometry({ tire: { overallDiameter: { mm: 650, in: 25.6 } } }),
      400,
      'invalid-request',
    )
    expect(problem.errors).toEqual([
      expect.objectContaining({ pointer: '#/tire/overallDiameter', code: 'more-than-one-of-choice' }),
    ])
  })

  test('every fault is reported, twenty at most', async () => {
    const many = Object.fromEntries(Array.from({ length: 30 }, (_, index) => [`x${index}`, index]))
    const problem = expectProblem(await geometry(many), 400, 'invalid-request')
    expect(problem.errors).toHaveLength(20)
    expect(problem.errors![0]).toMatchObject({ pointer: '#/tire', code: 'missing' })
    expect(problem.detail).toContain('(and 19 more)')
  })
})

describe('a choice between forms', () => {
  const faults = async (url: string, body: object) => {
    const answer = await app.inject({ method: 'POST', url, payload: body })
    return expectProblem(answer, 400, 'invalid-request').errors!
  }

  // Found 2026-11: answered only "#/integerBits expected one of 16, 32, 64; it is missing", as if that list, the same in both forms, chose
  // between them.
  test('is not decided by a list of values that all forms share; every other fault is reported with it', async () => {
    const errors = await faults('/v1/pulses/firmware-constants', { timerTick: { us: 1 } })
    expect(errors.map(({ pointer, code }) => [pointer, code])).toEqual([
      ['#', 'none-of-choice'],
      ['#/counterBits', 'missing'],
      ['#/integerBits', 'missing'],
      ['#/zeroTimeout', 'missing'],
      ['#/topSpeed', 'missing'],
      ['#/odometerStep', 'missing'],
    ])
    expect(errors[0]!.detail).toBe('give exactly one of pulses, tire with stages; got none')
  })

  // Found 2026-11: "got kind, name", which have nothing to do with the choice.
  test('lists only those fields that distinguish the forms', async () => {
    expect(await faults('/stage', { kind: 'final-drive', name: 'axle' })).toEqual([
      {
        in: 'body',
        pointer: '#',
        code: 'none-of-choice',
        detail: 'give exactly one of ratio, ring with pinion; got none',
      },
    ])
    // Found 2026-11: "got wear, sizes"; only some of the forms have `wear`, and it chooses none of them.
    const { errors } = (await geometry({ tire: { wear: { mm: 1 }, sizes: '165R15' } })).json()
    expect(errors).toMatchObject([
      { detail: 'give exactly one of size, overallDiameter, rollingCircumference, turns; got sizes' },
    ])
    // Found 2026-11: "got kind, ratio, ring, pinion".
    const axle = { kind: 'final-drive', ratio: { value: 4 }, ring: 40, pinion: 10 }
    expect(await faults('/stage', axle)).toMatchObject([
      {
        code: 'more-than-one-of-choice',
        detail: 'give exactly one of ratio, ring with pinion; got ratio, ring, pinion',
      },
    ])
  })

  // Found 2026-11: code unknown-field, "is not allowed here; the fields here are kind, ratio, name".
  test('says that a field of another form goes beyond the choice', async () => {
    const axle = { kind: 'final-drive', ratio: { value: 4 }, pinion: 10 }
    expect(await faults('/stage', axle)).toEqual([
      {
        in: 'body',
        pointer: '#/pinion',
        code: 'more-than-one-of-choice',
        detail:
          'is not allowed beside ratio: give exactly one of ratio, ring with pinion; the fields with ratio are kind, ratio, name',
      },
    ])
    expect(await faults('/stage', { kind: 'final-drive', ratio: { value: 4 }, pinions: 10 })).toMatchObject([
      { pointer: '#/pinions', code: 'unknown-field' },
    ])
  })
})

describe('only finite numbers of a sensible size are read', () => {
  for (const value of [
    '1e400',
    '-1e400',
    '5e-324',
    '-650',
    '-0',
    '0',
    '10001',
    '1e15',
    '12345678901234567890',
  ]) {
    test(`a diameter of ${value} mm is refused`, async () => {
      const problem = expectProblem(await geometry(withDiameter(value)), 400, 'invalid-request')
      expect(problem.errors?.[0]?.pointer).toBe('#/tire/overallDiameter/mm')
    })
  }

  test('-0 where zero is admitted is zero, and leaves as none', async () => {
    const response = await geometry('{"tire":{"size":"165R15","wear":{"mm":-0}}}')
    expect(response.statusCode).toBe(200)
    expect(response.body).toBe((await geometry({ tire: { size: '165R15' } })).body)
  })

  test('any number at all in a field gives an answer of finite numbers or a problem', async () => {
    await fc.assert(
      fc.asyncProperty(fc.double(), async (mm) => {
        const response = await geometry({ tire: { rollingCircumference: { mm } } })
        if (response.statusCode === 200) expect(response.body).not.toContain('null')
        else expectProblem(response, response.statusCode, response.json().code)
        expect(response.statusCode).toBeLessThan(500)
      }),
    )
  })
})

describe('text in a URL is converted by its schema', () => {
  const read = async (query: string) => (await app.inject(`/numbers?${query}`)).json()

  test('digits for a whole number', async () => expect(await read('n=5')).toEqual({ n: 5 }))
  test('true for a truth value', async () => expect(await read('flag=true')).toEqual({ flag: true }))
  test('an absent one stays absent', async () => expect(await read('')).toEqual({}))

  const wrong: ReadonlyArray<readonly [string, string, string]> = [
    ['n=', '#/n', 'wrong-type'],
    ['n=%20', '#/n', 'wrong-type'],
    ['n', '#/n', 'wrong-type'],
    ['n=5.5', '#/n', 'wrong-type'],
    ['n=five', '#/n', 'wrong-type'],
    ['n=NaN', '#/n', 'wrong-type'],
    ['n=Infinity', '#/n', 'wrong-type'],
    ['n=1e400', '#/n', 'wrong-type'],
    ['n=0x10', '#/n', 'wrong-type'],
    ['n=1&n=2', '#/n', 'wrong-type'],
    ['n=101', '#/n', 'out-of-bounds'],
    ['flag=yes', '#/flag', 'wrong-type'],
    ['m=1', '#/m', 'unknown-field'],
    ['N=1', '#/N', 'unknown-field'],
    ['n[]=1', '#/n%5B%5D', 'unknown-field'],
    ['__proto__=1', '#/__proto__', 'unknown-field'],
  ]
  for (const [query, pointer, code] of wrong) {
    test(`?${query} is a 400 at ${pointer}`, async () => {
      const problem = expectProblem(await app.inject(`/numbers?${query}`), 400, 'invalid-request')
      expect(problem.errors).toEqual([expect.objectContaining({ in: 'query', pointer, code })])
    })
  }

  test('a required one that is missing is named', async () => {
    const problem = expectProblem(await app.inject('/v1/tires'), 400, 'invalid-request')
    expect(problem.errors).toEqual([
      expect.objectContaining({ in: 'query', pointer: '#/size', code: 'missing' }),
    ])
  })

  for (const address of ['/v1/units', '/v1/sources', '/problems', '/problems/internal']) {
    test(`${address} takes no parameters, and says so`, async () => {
      const problem = expectProblem(await app.inject(`${address}?verbose=1`), 400, 'invalid-request')
      expect(problem.errors).toEqual([
        expect.objectContaining({
          in: 'query',
          pointer: '#/verbose',
          detail: 'is not allowed here; there are no fields here',
        }),
      ])
    })
  }

  test('a path parameter beyond its length is a 400 that names it', async () => {
    const problem = expectProblem(await app.inject(`/problems/${'a'.repeat(150)}`), 400, 'invalid-request')
    expect(problem.errors).toEqual([expect.objectContaining({ in: 'path', pointer: '#/code' })])
  })
})

describe('cost of an invalid request', () => {
  // Found 2026-11-25: explaining 16 000 wrong items, 48 kB, took 17 s, and four times as long for twice as many.
  test('twice the wrong items do not take four times as long to refuse', async () => {
    const refuse = async (items: number) => {
      const start = performance.now()
      const { status, body } = await post(app, '/list', { to: Array(items).fill({}) })
      expect(status).toBe(400)
      expect(body.errors[0]).toMatchObject({ pointer: '#/to', code: 'wrong-length' })
      return performance.now() - start
    }
    const few = Math.min(...(await Promise.all([refuse(1000), refuse(1000), refuse(1000)])))
    const many = await refuse(64_000)
    // 64 times the items; the square of that is 4096.
    expect(many / few).toBeLessThan(640)
  })

  // Found 2026-11-25: below a choice at the root all of them were looked for, and 200 000 took minutes.
  test('in a large list below a choice the first fault is named, too', async () => {
    const tires = { calibratedFor: { size: '165R13' }, fitted: { size: '165R13' } }
    const refused = async (items: number) => {
      const rules = Array.from({ length: items }, () => [])
      const { status, body } = await post(app, '/v1/gauges/error', { ...tires, rules })
      expect(status).toBe(400)
      return body.errors
    }
    expect((await refused(100)).length).toBeGreaterThan(1)
    // As many as the body may hold.
    expect(await refused(15_000)).toHaveLength(1)
  })

  test('in a large body the first fault is named, though not all are looked for', async () => {
    const to = Array.from({ length: 20 }, () => ({ size: '165R15' }))
    const extra = Array.from({ length: 3000 }, (_, index) => index)
    const { status, body } = await post(app, '/list', { to: [...to.slice(1), { size: 5 }], extra })
    expect(status).toBe(400)
    expect(body.errors).toEqual([expect.objectContaining({ pointer: '#/to/19/size', code: 'wrong-type' })])
  })
})

test('building the application raises no warning of the process (deprecated options among them)', async () => {
  const warnings: string[] = []
  const listen = (warning: Error) => warnings.push(warning.message)
  process.on('warning', listen)
  const other = await testApp({ CORS_ORIGINS: 'https://club.example', TRUST_PROXY: '127.0.0.1' })
  await other.ready()
  await new Promise((resolve) => setImmediate(resolve))
  await other.close()
  process.off('warning', listen)
  expect(warnings).toEqual([])
})

describe('an uncertainty as large as a value that cannot be zero', () => {
  // It was taken, and ended in a flat fail or in nothing.
  test.each([
    [
      'a length',
      '/v1/tires/geometry',
      { tire: { rollingCircumference: { mm: 1800, plusMinus: 5000 } } },
      '/tire/rollingCircumference',
    ],
    [
      'a diameter',
      '/v1/tires/geometry',
      { tire: { overallDiameter: { in: 25, plusMinus: 25 } } },
      '/tire/overallDiameter',
    ],
    [
      'turns per distance',
      '/v1/tires/geometry',
      { tire: { turns: { perMile: 800, plusMinus: 900 } } },
      '/tire/turns',
    ],
    [
      'a ratio',
      '/v1/gauges/error',
      { indicatedPerTrue: { value: 1, plusMinus: 1 }, speeds: [{ mph: 60 }] },
      '/indicatedPerTrue',
    ],
  ])('is refused of %s, at its plusMinus', async (_name, url, payload, pointer) => {
    const problem = expectProblem(await app.inject({ method: 'POST', url, payload }), 400, 'invalid-request')
    expect(problem.errors).toEqual([
      {
        in: 'body',
        pointer: `#${pointer}/plusMinus`,
        code: 'out-of-bounds',
        detail: expect.stringMatching(/^expected less than the value, [\d.]+, got [\d.]+:/),
      },
    ])
  })

  test('a little less is taken, and any of what may be nothing: tread wear', async () => {
    const answers = await Promise.all([
      geometry({ tire: { overallDiameter: { mm: 650, plusMinus: 649 } } }),
      geometry({ tire: { size: '165R15', wear: { mm: 1, plusMinus: 2 } } }),
    ])
    expect(answers.map(({ statusCode }) => statusCode)).toEqual([200, 200])
  })
})
