import { existsSync } from 'node:fs'
import { dirname, join } from 'node:path'

/**
 * A file that belongs to the program and is not compiled: its folder is next to `src` or, after the build, next to `dist`.
 *
 * @throws {Error} when the program was installed without it
 */
export function programFile(path: string): string {
  let folder = import.meta.dirname
  while (!existsSync(join(folder, path))) {
    const parent = dirname(folder)
    if (parent === folder) throw new Error(`no ${path} above ${import.meta.dirname}`)
    folder = parent
  }
  return join(folder, path)
}
