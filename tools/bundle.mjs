// Puts the compiled service and the packages it uses into few files, dist/start: a start that opens nine hundred files takes
// three times as long. What brings files of its own (the database driver, threads, fonts) stays outside.
import { rmSync } from 'node:fs'
import { builtinModules } from 'node:module'
import { join } from 'node:path'
import { rolldown } from 'rolldown'

const dist = join(import.meta.dirname, '../dist')
const OUTSIDE = ['better-sqlite3', 'pdfmake', 'piscina', 'prom-client']

rmSync(join(dist, 'start'), { recursive: true, force: true })
const bundle = await rolldown({
  input: { server: join(dist, 'src/server.js'), worker: join(dist, 'src/plugins/worker.js') },
  platform: 'node',
  external: (id) => id.startsWith('node:') || builtinModules.includes(id) || OUTSIDE.includes(id),
})
await bundle.write({
  dir: join(dist, 'start'),
  format: 'esm',
  sourcemap: true,
  minify: { compress: false, mangle: false, codegen: { removeWhitespace: true } },
  chunkFileNames: '[name].js',
})
await bundle.close()
