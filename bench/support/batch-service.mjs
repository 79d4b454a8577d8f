// The service; reports the longest block of its event loop and its memory since the last report.
import { monitorEventLoopDelay } from 'node:perf_hooks'
import { buildApp } from '../../dist/src/app.js'
import { readConfig } from '../../dist/src/config.js'
import { openSqliteStore } from '../../dist/src/db/sqlite/sqlite-store.js'
import { report } from './child.mjs'

const store = openSqliteStore({ file: ':memory:', clock: Date.now })
const app = await buildApp({
  config: readConfig({ RATE_PER_KEY: '0', RATE_PER_ADDRESS: '0' }),
  store,
  clock: Date.now,
})
const delay = monitorEventLoopDelay({ resolution: 1 })
delay.enable()
let peak = 0
setInterval(() => {
  peak = Math.max(peak, process.memoryUsage.rss())
}, 50).unref()
await report(app, () => {
  const facts = {
    delayP99Ms: delay.percentile(99) / 1e6,
    delayMaxMs: delay.max / 1e6,
    peakMiB: peak / 2 ** 20,
  }
  delay.reset()
  peak = process.memoryUsage.rss()
  return facts
})
