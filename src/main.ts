#!/usr/bin/env node
import { run } from './load-program.js'

await run(process.argv.slice(2))
