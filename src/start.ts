// Starts the service from the one file that holds it, and from the code that V8 made of that file when it was built: to compile three
// megabytes anew would take a third of a start. What does not fit that file, this Node or its own seal is not used.
import { readFileSync } from 'node:fs'
import { createRequire, Module } from 'node:module'
import { dirname, join } from 'node:path'
import { Script } from 'node:vm'
import { crc32 } from 'node:zlib'

const FILE = join(import.meta.dirname, 'service.cjs')
const CODE_FILE = join(import.meta.dirname, 'service.code')
const SEAL_BYTES = 4

const source = readFileSync(FILE)

/** What code must be of. V8 looks at the length of the source alone, and dies of code that is damaged. */
function sealOf(code: Buffer): number {
  return crc32(`${process.version} ${process.arch}`, crc32(source, crc32(code)))
}

/** The code that was kept, unless it is missing, damaged or of something else. */
function keptCode(): Buffer | undefined {
  try {
    const kept = readFileSync(CODE_FILE)
    const code = kept.subarray(0, -SEAL_BYTES)
    return kept.readUInt32LE(code.length) === sealOf(code) ? code : undefined
  } catch {
    return undefined
  }
}

const cachedData = keptCode()
export const script = new Script(Module.wrap(source.toString()), {
  filename: FILE,
  ...(cachedData === undefined ? {} : { cachedData }),
})
const service = { exports: {} as typeof import('./server.js') }
script.runInThisContext()(service.exports, createRequire(FILE), service, FILE, dirname(FILE))

/** Fulfilled once the service listens and has said so. */
export const { started } = service.exports

/** The code of all that has run by now, to be kept in a file. */
export function codeToKeep(): { file: string; bytes: Buffer } {
  const code = script.createCachedData()
  const seal = Buffer.alloc(SEAL_BYTES)
  seal.writeUInt32LE(sealOf(code))
  return { file: CODE_FILE, bytes: Buffer.concat([code, seal]) }
}
