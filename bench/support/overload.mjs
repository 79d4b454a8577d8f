// Measures from a process of its own how a server behaves when more is asked of it than it can answer:
// node overload.mjs ADDRESS PATH BODY SECONDS   prints one line of JSON.
import { Crowd } from './crowd.mjs'

const CLIENTS = 32
const TIMES = [1, 2, 5, 10]
/** Share of the capacity that is asked of a server that is not overloaded. */
const CALM = 0.4
const AFTER_S = 5

const [address, path, body, secondsText] = process.argv.slice(2)
const seconds = Number(secondsText)
const crowd = new Crowd(address, { path, body })

await crowd.closedLoop(CLIENTS, seconds)
const capacity = await crowd.closedLoop(CLIENTS, seconds)
const before = await crowd.openLoop(CALM * capacity.perSecond, seconds)
const under = {}
for (const times of TIMES) under[times] = await crowd.openLoop(times * capacity.perSecond, seconds)
// What was refused last is read again.
await new Promise((resolve) => setTimeout(resolve, 1000))
const obeying = await crowd.openLoop(10 * capacity.perSecond, seconds, { obeys: true })
const after = await crowd.openLoop(CALM * capacity.perSecond, AFTER_S)
crowd.close()
console.log(JSON.stringify({ capacity, before, under, obeying, after }))
process.exit(0)
