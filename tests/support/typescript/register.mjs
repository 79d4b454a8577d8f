// Lets threads that the tests start (the worker pool) run TypeScript sources: the test runner compiles only what it
// imports itself.
import { register } from 'node:module'

register('./hooks.mjs', import.meta.url)
