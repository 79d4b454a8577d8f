#!/usr/bin/env node
import { runProgram } from './run-program.js'

await runProgram(process.argv.slice(2))
