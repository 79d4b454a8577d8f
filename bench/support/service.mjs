// The service itself, as `npm start` runs it, without a log.
import { buildApp } from '../../dist/src/app.js'
import { readConfig } from '../../dist/src/config.js'
import { report } from './child.mjs'

await report(await buildApp({ config: readConfig({}) }))
