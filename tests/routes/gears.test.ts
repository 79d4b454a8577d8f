import { afterAll, describe, expect, test } from 'vitest'
import { post, testApp } from '../support/app.js'

const app = await testApp()
afterAll(() => app.close())
const ask = (body: unknown) => post(app, '/v1/gears/trains', body)

describe('POST /v1/gears/trains', () => {
  test('1000/879: convergents by the algorithm of Euclid, and the stages that each needs', async () => {
    const { status, body } = await ask({
      ratio: { numerator: 1000, denominator: 879 },
      stages: 2,
      teeth: { min: 20, max: 100 },
      maxResults: 3,
    })
    expect(status).toBe(200)
    expect(
      body.convergents.map((one: { numerator: number; denominator: number }) => [
        one.numerator,
        one.denominator,
      ]),
    ).toEqual([
      [1, 1],
      [8, 7],
      [25, 22],
      [33, 29],
      [124, 109],
      [157, 138],
      [281, 247],
      [1000, 879],
    ])
    // 25/22 is a pair; 124/109 needs the prime 109, above 100 teeth; 879 = 3·293 likewise.
    expect(body.convergents[2].stages).toBe(1)
    expect(body.convergents[4].stages).toBeUndefined()
    expect(body.convergents[7].stages).toBeUndefined()
    // 25/22 over 1000/879: 21975/22000 - 1 = -25/22000.
    expect(body.convergents[2].errorPercent).toBeCloseTo(-100 * (25 / 22000), 12)
    expect(body.exactRatio).toBe('1000/879')
    // Two stages do better than any convergent that they can build.
    expect(Math.abs(body.trains[0].errorPercent)).toBeLessThan(Math.abs(body.convergents[2].errorPercent))
  })

  test('an exact pair: 7/20 as 14 and 40 teeth; one stage reverses', async () => {
    const { body } = await ask({ ratio: 0.35, stages: 1, teeth: [14], drivenTeeth: [38, 39, 40] })
    expect(body.trains[0]).toMatchObject({
      stages: 1,
      exact: true,
      errorPercent: 0,
      numerator: 7,
      denominator: 20,
      reverses: true,
    })
    // Teeth 14 and 40 share 2: after 40/2 turns of the driving wheel the same teeth meet.
    expect(body.trains[0].teeth).toEqual([
      { driving: 14, driven: 40, ratio: 0.35, hunting: false, repeatTurns: 20 },
    ])
    expect(body.notes.map(({ code }: { code: string }) => code)).toContain('teeth-meet-again-early')
  })

  test('marks trains within the uncertainty of the ratio', async () => {
    const { body } = await ask({ ratio: { value: 1.5, plusMinus: 0.01 }, stages: 1, teeth: [20, 30, 31] })
    // 30/20 is exact; 31/20 = 1.55 is 3.3 % off, beyond 0.67 %.
    expect(
      body.trains.slice(0, 2).map((one: { withinUncertainty: boolean }) => one.withinUncertainty),
    ).toEqual([true, false])
  })

  test('the gain of each further stage never grows', async () => {
    const { body } = await ask({ ratio: 1.016054, teeth: { min: 12, max: 60 } })
    const errors = body.bestByStages.map((one: { errorPercent: number }) => Math.abs(one.errorPercent))
    expect(errors).toHaveLength(3)
    expect(errors[1]).toBeLessThanOrEqual(errors[0])
    expect(errors[2]).toBeLessThanOrEqual(errors[1])
  })

  // Wrong until 2026-11: 200 wheels in three stages blocked the request thread for up to 28 s.
  test('a search of many wheels does not block other requests', async () => {
    const body = {
      ratio: { numerator: 1000, denominator: 879 },
      teeth: { min: 201, max: 400 },
      maxResults: 100,
    }
    let turns = 0
    const counting = setInterval(() => turns++, 1)
    const { status } = await ask(body)
    clearInterval(counting)
    expect(status).toBe(200)
    // The request thread was free while the search ran in a worker.
    expect(turns).toBeGreaterThan(5)
  })

  for (const [what, body, code, pointer] of [
    ['a crossed range', { ratio: 1, teeth: { min: 60, max: 12 } }, 'out-of-range', '#/teeth/min'],
    ['more than 200 counts', { ratio: 1, teeth: { min: 1, max: 201 } }, 'out-of-range', '#/teeth'],
    ['one wheel, used once', { ratio: 1, teeth: [20], eachOnce: true }, 'too-few-wheels', '#/teeth'],
  ] as const) {
    test(`${what}: 422 ${code} at ${pointer}`, async () => {
      const { status, body: problem } = await ask(body)
      expect(status).toBe(422)
      expect(problem.code).toBe(code)
      expect(problem.errors[0].pointer).toBe(pointer)
    })
  }

  for (const [what, body] of [
    ['no teeth', { ratio: 1, teeth: [0] }],
    ['401 teeth', { ratio: 1, teeth: [401] }],
    ['four stages', { ratio: 1, teeth: [20], stages: 4 }],
    ['a ratio of zero', { ratio: 0, teeth: [20] }],
    ['a ratio as text', { ratio: '7/20', teeth: [20] }],
  ] as const) {
    test(`${what}: 400`, async () => expect((await ask(body)).status).toBe(400))
  }
})
