// Writes the licenses of the packages of production into the build, where the service finds them; see tools/notices.ts.
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { noticesOf } from './notices.js'

const root = join(import.meta.dirname, '../..')
writeFileSync(join(root, 'dist/start/notices.txt'), noticesOf(root))
