import { describe, expect, onTestFinished, test, vi } from 'vitest'
import { RequestQueue } from '../../src/plugins/request-queue.js'

const eventLoopTurn = () => new Promise<void>((resolve) => setImmediate(resolve))

/** Keeps the thread busy, as a request does. */
function burn(ms: number): void {
  const endMs = performance.now() + ms
  while (performance.now() < endMs);
}

/** A queue whose requests are functions, on a service that seems busy. */
function busyQueue(options: { afterMs?: number; aboveUtilization?: number } = {}) {
  const queue = new RequestQueue<() => void>({ afterMs: 20, aboveUtilization: 0.9, ...options }, (request) =>
    request(),
  )
  onTestFinished(() => queue.close())
  return queue
}

/** Adds so many requests of 1 ms at least; resolves when all were begun. */
async function done(queue: RequestQueue<() => void>, count: number): Promise<number> {
  let [begun, turns] = [0, 0]
  for (let n = 0; n < count; n++) {
    queue.add('one', () => {
      burn(1)
      begun++
    })
  }
  for (; begun < count; turns++) await eventLoopTurn()
  return turns
}

test('starts requests in order, each after the synchronous work of the one before', async () => {
  const queue = busyQueue()
  await done(queue, 100)
  // As much as is begun in one turn: the next wait.
  const before = done(queue, 3)
  const log: string[] = []
  for (const name of ['a', 'b', 'c']) {
    queue.add('one', () => {
      log.push(`${name} begun`)
      process.nextTick(() => process.nextTick(() => log.push(`${name} read`)))
      Promise.resolve()
        .then(() => undefined)
        .then(() => log.push(`${name} answered`))
    })
  }
  expect(log).toEqual([])
  await before
  while (log.length < 9) await eventLoopTurn()
  expect(log.map((line) => line[0]).join('')).toBe('aaabbbccc')
})

test('lets the event loop poll its sockets between slices', async () => {
  const queue = busyQueue()
  await done(queue, 64)
  // Of 2 ms: two requests of 1 ms in a turn at the most.
  expect(await done(queue, 60)).toBeGreaterThanOrEqual(30)
})

describe('with requests of 1 ms, of which none is to wait longer than 20 ms', () => {
  const cases = [
    { name: 'is full with 40 on a busy service', waiting: 40, isFull: true },
    { name: 'is not full with a few', waiting: 8, options: { afterMs: 1 }, isFull: false },
    { name: 'is not full on a service that was idle lately', waiting: 40, utilization: 0.5, isFull: false },
    { name: 'is never full without a limit', waiting: 40, options: { afterMs: 0 }, isFull: false },
  ]
  test.each(cases)('$name', async ({ waiting, utilization = 1, options, isFull }) => {
    const queue = busyQueue(options)
    await done(queue, 100)
    const rest = done(queue, waiting)
    queue.utilization = utilization
    expect(queue.isFull('one')).toBe(isFull)
    // Two at the most are begun as they come.
    expect([...queue].length).toBeGreaterThanOrEqual(waiting - 2)
    await rest
    queue.utilization = 1
    expect(queue.isFull('one')).toBe(false)
  })

  test('has less room the more requests wait, and none when it is full', async () => {
    const queue = busyQueue()
    await done(queue, 100)
    const whole = queue.room()
    expect(whole).toBeGreaterThan(0)
    expect(whole).toBeLessThanOrEqual(20)
    const rest = done(queue, 40)
    expect(queue.room()).toBe(0)
    await rest
  })
})

// Found 2026-11: 300 connections of one address that asked for a long document had those of all others refused, or answered after a second.
test('requests of two callers alternate, and one caller is not refused because the other has too many', async () => {
  const queue = busyQueue()
  await done(queue, 100)
  queue.utilization = 1
  const crowd = done(queue, 40)
  const log: string[] = []
  expect(queue.isFull('one')).toBe(true)
  expect(queue.isFull('another')).toBe(false)
  queue.add('another', () => log.push('another'))
  for (let n = 0; n < 3; n++) queue.add('one', () => log.push('one'))
  await crowd
  while (log.length < 4) await eventLoopTurn()
  expect(log).toEqual(['another', 'one', 'one', 'one'])
})

test('after a long request, its caller is served after others for the same time', async () => {
  const queue = busyQueue()
  const log: string[] = []
  await done(queue, 100)
  // A clock of the test: on a busy machine any request may take long.
  let nowMs = performance.now()
  const clock = vi.spyOn(performance, 'now').mockImplementation(() => nowMs)
  onTestFinished(() => clock.mockRestore())
  const busy = (name: string, ms: number) => () => {
    log.push(name)
    nowMs += ms
  }
  // Begun as it comes; then those that wait.
  queue.add('dear', busy('dear', 300))
  queue.add('other', busy('other', 1))
  queue.add('dear', busy('dear', 300))
  for (let n = 0; n < 4; n++) queue.add('other', busy('other', 1))
  while (log.length < 7) await eventLoopTurn()
  expect(log).toEqual(['dear', ...Array.from({ length: 5 }, () => 'other'), 'dear'])
})

// Found 2026-11: ten requests of 10 ms that one caller had sent together were computed in one turn of the event loop, before any socket was looked at.
test('begins nothing more in a turn of the event loop after a request that took long', async () => {
  const queue = busyQueue()
  await done(queue, 100)
  // So many short ones that the mean says that many have room in a turn.
  for (let n = 0; n < 200; n++) queue.add('short', () => undefined)
  while (queue.length > 0) await eventLoopTurn()
  await eventLoopTurn()
  const turns: number[] = []
  let [turn, isOver] = [0, false]
  const count = () => {
    turn++
    if (!isOver) setImmediate(count)
  }
  setImmediate(count)
  for (let n = 0; n < 10; n++) {
    queue.add('dear', () => {
      burn(5)
      turns.push(turn)
    })
  }
  expect(turns).toEqual([0])
  while (turns.length < 10) await eventLoopTurn()
  isOver = true
  expect(new Set(turns).size).toBe(10)
})

test('says whose turn it is until the next begins, or the turn is over', async () => {
  const queue = busyQueue()
  const [first, second] = [() => undefined, () => undefined]
  queue.add('one', first)
  expect(queue.isTurnOf(first)).toBe(true)
  queue.add('one', second)
  expect(queue.isTurnOf(first)).toBe(false)
  expect(queue.isTurnOf(second)).toBe(true)
  await eventLoopTurn()
  await eventLoopTurn()
  expect(queue.isTurnOf(second)).toBe(false)
})
