// The service as the compiler left it, without the bundle.
import { run } from '../dist/src/program/program.js'

await run(['serve'])
