import { existsSync, readFileSync } from 'node:fs'
import { dirname, join } from 'node:path'

/** The folder of the program: the one of `package.json`, above `src` or, after the build, above `dist`. */
export const PROGRAM_FOLDER: string = (() => {
  let folder = import.meta.dirname
  while (!existsSync(join(folder, 'package.json'))) {
    const parent = dirname(folder)
    if (parent === folder) throw new Error(`no package.json above ${import.meta.dirname}`)
    folder = parent
  }
  return folder
})()

/** Version of the program. `MODEL` (src/domain/model.ts) is the version of its computations. */
export const VERSION: string = JSON.parse(readFileSync(join(PROGRAM_FOLDER, 'package.json'), 'utf8')).version
