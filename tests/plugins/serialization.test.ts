import { describe, expect, test } from 'vitest'
import { answerText } from '../../src/plugins/serialization.js'

describe('answerText(answer)', () => {
  test('leaves the word null in texts and values alone', () => {
    const answer = { text: 'null', list: [null, 'a null b'], n: 0 }
    expect(answerText(answer)).toBe('{"text":"null","list":[null,"a null b"],"n":0}')
  })

  test.each([
    [{ table: [{ speed: { kmh: Number.NaN } }] }, '/table/0/speed/kmh is NaN'],
    [{ a: 1, b: Number.POSITIVE_INFINITY }, '/b is Infinity'],
    [[1, Number.NEGATIVE_INFINITY], '/1 is -Infinity'],
  ])('refuses %o, and says where', (answer, message) => {
    expect(() => answerText(answer)).toThrow(message)
  })

  test('leaves out what is undefined', () => {
    expect(answerText({ a: undefined, b: 1 })).toBe('{"b":1}')
  })
})
