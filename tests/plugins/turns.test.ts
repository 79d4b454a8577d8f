import { expect, test } from 'vitest'
import { Turns } from '../../src/plugins/turns.js'

const eventLoopTurn = () => new Promise<void>((resolve) => setImmediate(resolve))

test('gives one turn in each turn of the event loop, to whoever waits longest', async () => {
  const turns = new Turns()
  const order: string[] = []
  const work = async (name: string) => {
    for (let i = 0; i < 3; i++) {
      await turns.next()
      order.push(name)
    }
  }
  const all = Promise.all([work('a'), work('b'), work('c')])
  let least = 0
  while (order.length < 9) {
    const before = order.length
    await eventLoopTurn()
    expect(order.length - before).toBeLessThanOrEqual(1)
    least++
  }
  await all
  expect(order.join('')).toBe('abcabcabc')
  expect(least).toBeGreaterThanOrEqual(9)
})

test('a turn is over after a while, and not before any work', async () => {
  const turn = await new Turns().next()
  expect(turn.isOver()).toBe(false)
  while (!turn.isOver()) await Promise.resolve()
  expect(turn.isOver()).toBe(true)
})

test('can be taken again after nobody waited', async () => {
  const turns = new Turns()
  await turns.next()
  await eventLoopTurn()
  await eventLoopTurn()
  expect((await turns.next()).isOver()).toBe(false)
})
