// Puts the compiled service and the packages it uses into few files, dist/start: a start that opens nine hundred files takes
// three times as long. What brings files of its own (the database driver, threads, fonts) stays outside.
import { rmSync } from 'node:fs'
import { builtinModules } from 'node:module'
import { join } from 'node:path'
import { rolldown } from 'rolldown'

const dist = join(import.meta.dirname, '../dist')
const OUTSIDE = ['better-sqlite3', 'pdfmake', 'piscina', 'prom-client']

async function bundle(input, output) {
  const made = await rolldown({
    input,
    platform: 'node',
    external: (id) => id.startsWith('node:') || builtinModules.includes(id) || OUTSIDE.includes(id),
  })
  await made.write({ dir: join(dist, 'start'), chunkFileNames: '[name].js', ...output })
  await made.close()
}

rmSync(join(dist, 'start'), { recursive: true, force: true })
await bundle(
  {
    server: join(dist, 'src/start.js'),
    worker: join(dist, 'src/plugins/worker.js'),
    'watchdog-thread': join(dist, 'src/plugins/watchdog-thread.js'),
  },
  { format: 'esm' },
)
// One script: V8 keeps code of scripts, not of ECMAScript modules, and such code can import nothing later, only require it.
await bundle(
  { service: join(dist, 'src/server.js') },
  { format: 'cjs', entryFileNames: '[name].cjs', comments: false, dynamicImportInCjs: false },
)
