import { afterAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'

const app = await testApp()
afterAll(() => app.close())
const ask = (body: unknown) => post(app, '/v1/cables/drag', body)

describe('POST /v1/cables/drag', () => {
  test('parts that turn freely one by one and bind in place: 20 and 10 alone, 50 together', async () => {
    const { status, body } = await ask({
      parts: [
        { name: 'cable', kind: 'cable' },
        { name: 'head', kind: 'head' },
      ],
      tests: [
        { parts: ['cable'], torque: { mNm: 20, plusMinus: 2 } },
        { parts: ['head'], torque: { mNm: 10, plusMinus: 1 } },
        { parts: ['cable', 'head'], torque: { mNm: 50, plusMinus: 4 } },
      ],
    })
    expect(status).toBe(200)
    expect(body.assembly.found).toBe(true)
    expect(body.assembly.drag.mNm).toBeCloseTo(20, 9)
    // 95 %: √(2² + 1² + 4²)
    expect(body.assembly.drag.plusMinus.mNm).toBeCloseTo(Math.sqrt(21), 9)
    // 1 ozf.in = 7.061551814 mN.m (NIST SP 811, App. B)
    expect(body.assembly.drag.ozIn).toBeCloseTo(20 / 7.061551814, 8)
    expect(body.findings[0]).toMatchObject({ code: 'assembly-drags', level: 'caution' })
    expect(body.findings[0].causes.map(({ code }: { code: string }) => code)).toContain('core-thrust')
  })

  // Found 2026-11: ± 2 mN.m, as if plusMinus were left out, and a note that 1 of the torques states no uncertainty.
  test('plusMinus 0 counts with the minimum uncertainty: 0.1 % of the largest', async () => {
    const { body } = await ask({
      parts: ['cable'],
      tests: [{ parts: ['cable'], torque: { mNm: 20, plusMinus: 0 } }],
    })
    expect(body.parts[0].drag.plusMinus.mNm).toBeCloseTo(0.02, 9)
    expect(body.notes.map(({ code }: { code: string }) => code)).toContain('torque-uncertainty-raised')
  })

  // Found 2026-11: "The whole in place takes no more than its parts", under a joint that takes 4.5 oz.in.
  test('a pair that binds is named as part of the torque of the whole: 7.0 and 5.8 oz.in where the parts sum to 2.5 and 1.3', async () => {
    const parts = ['drive', 'first cable', 'angle drive', 'second cable', 'head']
    const torques = [0.4, 0.9, 0.4, 0.5, 0.3]
    const { status, body } = await ask({
      parts,
      tests: [
        ...parts.map((part, i) => ({ parts: [part], torque: { ozIn: torques[i] } })),
        { parts, torque: { ozIn: 7 } },
        { parts: ['first cable', 'angle drive'], torque: { ozIn: 5.8 } },
      ],
    })
    expect(status).toBe(200)
    expect(body.assembly).toMatchObject({ found: true })
    expect(body.assembly.drag.ozIn).toBeCloseTo(4.5, 6)
    expect(body.assembly.wholeMinusParts.ozIn).toBeCloseTo(4.5, 9)
    expect(body.assembly.elsewhere.ozIn).toBeCloseTo(0, 6)
    expect(body.joints).toMatchObject([{ parts: ['first cable', 'angle drive'] }])
    expect(body.joints[0].drag.ozIn).toBeCloseTo(4.5, 6)
    expect(body.findings.map(({ code }: { code: string }) => code)).toEqual(['assembly-drags', 'joint-drags'])
  })

  test('ounce-inches and millinewton meters mix', async () => {
    const { body } = await ask({ parts: ['cable'], tests: [{ parts: ['cable'], torque: { ozIn: 2 } }] })
    expect(body.parts[0].drag.mNm).toBeCloseTo(2 * 7.061551814, 8)
    expect(body.assembly).toBeUndefined()
  })

  test('names the parts that the tests do not distinguish, and the test that distinguishes them', async () => {
    const { body } = await ask({
      parts: ['a', 'b', 'c'],
      tests: [
        { parts: ['a', 'b'], torque: { mNm: 20, plusMinus: 1 } },
        { parts: ['c'], torque: { mNm: 5, plusMinus: 1 } },
      ],
    })
    expect(body.parts.map(({ determined }: { determined: boolean }) => determined)).toEqual([
      false,
      false,
      true,
    ])
    expect(body.notDistinguishable).toEqual([
      {
        names: ['a', 'b'],
        neverTested: false,
        together: expect.objectContaining({ mNm: expect.closeTo(20, 6) }),
      },
    ])
    expect(body.nextTests[0]).toMatchObject({ parts: ['a'], assembled: false, determines: ['a', 'b'] })
  })

  for (const [what, body, code, pointer] of [
    [
      'a test of a part that is not among the parts',
      { parts: ['a'], tests: [{ parts: ['b'], torque: { mNm: 1 } }] },
      'part-unknown',
      '#/tests/0/parts/0',
    ],
    [
      'two parts of one name',
      { parts: ['a', { name: 'a' }], tests: [{ parts: ['a'], torque: { mNm: 1 } }] },
      'part-repeated',
      '#/parts/1',
    ],
    [
      'only zeros',
      { parts: ['a'], tests: [{ parts: ['a'], torque: { mNm: 0 } }] },
      'torque-not-informative',
      '#/tests',
    ],
  ] as const) {
    test(`${what}: 422 ${code} at ${pointer}`, async () => {
      const { status, body: problem } = await ask(body)
      expect(status).toBe(422)
      expect(problem.code).toBe(code)
      expect(problem.errors[0].pointer).toBe(pointer)
    })
  }

  test('a torque below zero, a second unit, no tests: 400', async () => {
    const parts = ['a']
    for (const tests of [
      [{ parts, torque: { mNm: -1 } }],
      [{ parts, torque: { mNm: 1, ozIn: 1 } }],
      [{ parts: [], torque: { mNm: 1 } }],
      [],
    ])
      expect((await ask({ parts, tests })).status).toBe(400)
  })
})
