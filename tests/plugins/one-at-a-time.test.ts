import { EventEmitter } from 'node:events'
import type { FastifyReply, FastifyRequest } from 'fastify'
import { expect, test } from 'vitest'
import { oneAtATime } from '../../src/plugins/one-at-a-time.js'

const eventLoopTurn = () => new Promise<void>((resolve) => setImmediate(resolve))

/** A request of an address, and its answer. */
function asked(ip: string) {
  const socket = { destroyed: false }
  const answer = new EventEmitter()
  const request = { ip, raw: { socket } } as unknown as FastifyRequest
  return { request, reply: { raw: answer } as unknown as FastifyReply, answer, socket }
}

// Found 2026-11: 12 tables of 5000 rows that one key sent at once took 400 MiB, since all were read before the first was stored.
test('requests of a caller have their turns one after the other, and do not wait for those of another', async () => {
  const turn = oneAtATime()
  const log: string[] = []
  const ask = (name: string, ip: string) => {
    const one = asked(ip)
    turn(one.request, one.reply).then(
      () => log.push(name),
      () => log.push(`${name} left`),
    )
    return one
  }
  const first = ask('first', '127.0.0.1')
  const second = ask('second', '127.0.0.1')
  const third = ask('third', '127.0.0.1')
  ask('other', '127.0.0.2')
  await eventLoopTurn()
  expect(log.sort()).toEqual(['first', 'other'])
  // Who leaves before its turn is passed over.
  second.socket.destroyed = true
  second.answer.emit('close')
  await eventLoopTurn()
  expect(log).toHaveLength(2)
  first.answer.emit('finish')
  await eventLoopTurn()
  expect(log.slice(2).sort()).toEqual(['second left', 'third'])
  third.answer.emit('close')
  await eventLoopTurn()
  const later = ask('later', '127.0.0.1')
  await eventLoopTurn()
  expect(log.at(-1)).toBe('later')
  later.answer.emit('close')
})
