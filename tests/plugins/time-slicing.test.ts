import { expect, test } from 'vitest'
import { TimeSlicer } from '../../src/plugins/time-slicing.js'

const nextIteration = () => new Promise<void>((resolve) => setImmediate(resolve))

test('grants one slice in each iteration of the event loop, first come, first served', async () => {
  const slicer = new TimeSlicer()
  const order: string[] = []
  const work = async (name: string) => {
    for (let i = 0; i < 3; i++) {
      await slicer.next()
      order.push(name)
    }
  }
  const all = Promise.all([work('a'), work('b'), work('c')])
  let iterations = 0
  while (order.length < 9) {
    const before = order.length
    await nextIteration()
    expect(order.length - before).toBeLessThanOrEqual(1)
    iterations++
  }
  await all
  expect(order.join('')).toBe('abcabcabc')
  expect(iterations).toBeGreaterThanOrEqual(9)
})

test('a slice is over after a while, but not at once', async () => {
  const slice = await new TimeSlicer().next()
  expect(slice.isOver()).toBe(false)
  while (!slice.isOver()) await Promise.resolve()
  expect(slice.isOver()).toBe(true)
})

test('grants slices again after none was requested for a while', async () => {
  const slicer = new TimeSlicer()
  await slicer.next()
  await nextIteration()
  await nextIteration()
  expect((await slicer.next()).isOver()).toBe(false)
})
