import { setTimeout as wait } from 'node:timers/promises'
import { expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { burn, dearApp, keepAsking, statuses } from '../support/overload.js'
import { Connection, portOf } from '../support/raw.js'

// Found 2026-11: requests whose last byte came late were computed as it came, those of all connections in one turn of the event loop, so that
// ten of 10 ms kept everyone waiting for 100 ms.
test('requests whose bodies are completed at the same moment are computed in an iteration of the event loop each', async () => {
  const app = await testApp()
  const turns: number[] = []
  let [turn, isOver] = [0, false]
  app.post('/dear', () => {
    burn(10)
    turns.push(turn)
    return 'done'
  })
  const port = await portOf(app)
  const clients = Array.from({ length: 10 }, () => new Connection(port))
  for (const client of clients)
    client.write(
      'POST /dear HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 2\r\n\r\n{',
    )
  await wait(100)
  const count = () => {
    turn++
    if (!isOver) setImmediate(count)
  }
  setImmediate(count)
  for (const client of clients) client.write('}')
  for (const client of clients) while (statuses(client.received).length === 0) await wait(1)
  isOver = true
  expect(clients.map(({ received }) => statuses(received))).toEqual(Array(10).fill(['200']))
  expect(new Set(turns).size).toBe(10)
  for (const client of clients) client.close()
  await app.close()
})

test('new callers are accepted while many others are served', async () => {
  const { app, port } = await dearApp({ SHED_AFTER_MS: '0' })
  const crowd = keepAsking(port, 40)
  while (crowd.answered() < 40) await wait(1)
  const before = crowd.answered()
  const late = Array.from({ length: 10 }, () => new Connection(port))
  for (const one of late) one.write('GET /livez HTTP/1.1\r\nHost: x\r\n\r\n')
  await Promise.all(late.map((one) => one.until('200 OK')))
  // They wait for the crowd once, about 40 answers, not once each.
  expect(crowd.answered() - before).toBeLessThan(200)
  await crowd.stop()
  for (const one of late) one.close()
  await app.close()
})
