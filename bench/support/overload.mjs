// Measures, from its own process, how a server behaves under overload:
// node overload.mjs ADDRESS PATH BODY SECONDS   prints one line of JSON.
import { Crowd } from './crowd.mjs'

const CLIENTS = 32
const TIMES = [1, 2, 5, 10]
/** Load without overload, as a share of the capacity. */
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
// Connections paused after the last refusal are read again by then.
await new Promise((resolve) => setTimeout(resolve, 1000))
const obeying = await crowd.openLoop(10 * capacity.perSecond, seconds, { obeys: true })
const after = await crowd.openLoop(CALM * capacity.perSecond, AFTER_S)
crowd.close()
console.log(JSON.stringify({ capacity, before, under, obeying, after }))
process.exit(0)
