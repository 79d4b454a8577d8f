// Bundles the compiled service and its packages into few files, dist/start: a start that opens nine hundred files takes
// three times as long. Packages that load files of their own (the database driver, threads, fonts) are not bundled.
import { rmSync } from 'node:fs'
import { builtinModules } from 'node:module'
import { join } from 'node:path'
import { rolldown } from 'rolldown'

const dist = join(import.meta.dirname, '../dist')
const OUTSIDE = ['better-sqlite3', 'pdfmake', 'pg', 'piscina', 'prom-client']

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
    'wheel-to-dial': join(dist, 'src/main.js'),
    // Also an entry: the build takes the code cache from it.
    'load-program': join(dist, 'src/load-program.js'),
    worker: join(dist, 'src/plugins/worker.js'),
    'watchdog-thread': join(dist, 'src/plugins/watchdog-thread.js'),
  },
  { format: 'esm' },
)
// One script: V8 has a code cache for scripts only, not for ECMAScript modules, and cached code cannot import, only require.
await bundle(
  { service: join(dist, 'src/program/program.js') },
  { format: 'cjs', entryFileNames: '[name].cjs', comments: false, dynamicImportInCjs: false },
)
