import { expect, test } from 'vitest'
import { FairQueue } from '../../src/plugins/fair-queue.js'

const drained = (queue: FairQueue<string>) => Array.from({ length: queue.length }, () => queue.take())

test('callers with many waiting items alternate with callers with few', () => {
  const queue = new FairQueue<string>()
  for (const item of ['a1', 'a2', 'a3', 'b1', 'c1', 'b2']) queue.add(item[0]!, item)
  expect(drained(queue)).toEqual(['a1', 'b1', 'c1', 'a2', 'b2', 'a3'])
  expect([queue.length, queue.take()]).toEqual([0, undefined])
})

test('a caller that is not eligible is passed over and keeps its place', () => {
  const queue = new FairQueue<string>()
  for (const item of ['a1', 'a2', 'b1', 'a3']) queue.add(item[0]!, item)
  expect(queue.take((caller) => caller !== 'a')).toBe('b1')
  expect(queue.take((caller) => caller !== 'a')).toBeUndefined()
  expect(drained(queue)).toEqual(['a1', 'a2', 'a3'])
})

test('a removed item is not served, and costs its caller no turn', () => {
  const queue = new FairQueue<string>()
  for (const item of ['a1', 'a2', 'b1']) queue.add(item[0]!, item)
  expect([queue.remove('a', 'a1'), queue.remove('a', 'a1'), queue.remove('c', 'c1')]).toEqual([
    true,
    false,
    false,
  ])
  expect([queue.length, ...drained(queue)]).toEqual([2, 'a2', 'b1'])
})
