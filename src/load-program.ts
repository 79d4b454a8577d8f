// Loads the program from its bundle, with the code cache that V8 made of the bundle during the build: compiling three megabytes
// again would take a third of a start. A code cache of another bundle or version of Node, or with a wrong checksum, is not used.
import { readFileSync } from 'node:fs'
import { createRequire, Module } from 'node:module'
import { dirname, join } from 'node:path'
import { Script } from 'node:vm'
import { crc32 } from 'node:zlib'

const { engines } = JSON.parse(readFileSync(join(import.meta.dirname, '../../package.json'), 'utf8'))
const oldest: string = engines.node.replace('>=', '')
if (process.versions.node.localeCompare(oldest, 'en', { numeric: true }) < 0) {
  // The database driver would crash.
  console.error(`Node ${process.versions.node} is too old: wheel-to-dial needs Node ${oldest} or later.`)
  process.exit(1)
}

const FILE = join(import.meta.dirname, 'service.cjs')
const CODE_FILE = join(import.meta.dirname, 'service.code')
const CHECKSUM_BYTES = 4

const source = readFileSync(FILE)

/** Checksum over code cache, bundle and version of Node. V8 checks only the length of the source, and crashes on a damaged cache. */
function checksumOf(code: Buffer): number {
  return crc32(`${process.version} ${process.arch}`, crc32(source, crc32(code)))
}

/** The code cache, unless it is missing, damaged or of another bundle. */
function codeCache(): Buffer | undefined {
  try {
    const file = readFileSync(CODE_FILE)
    const code = file.subarray(0, -CHECKSUM_BYTES)
    return file.readUInt32LE(code.length) === checksumOf(code) ? code : undefined
  } catch {
    return undefined
  }
}

const cachedData = codeCache()
export const script = new Script(Module.wrap(source.toString()), {
  filename: FILE,
  ...(cachedData === undefined ? {} : { cachedData }),
})
const program = { exports: {} as typeof import('./program/program.js') }
script.runInThisContext()(program.exports, createRequire(FILE), program, FILE, dirname(FILE))

/** Runs the program; its exit status becomes that of the process. */
export async function run(args: readonly string[]): Promise<void> {
  const status = await program.exports.run(args)
  if (status !== undefined) process.exitCode = status
}

/** The code cache of all functions that have run so far, to be written to a file. */
export function codeCacheFile(): { file: string; bytes: Buffer } {
  const code = script.createCachedData()
  const checksum = Buffer.alloc(CHECKSUM_BYTES)
  checksum.writeUInt32LE(checksumOf(code))
  return { file: CODE_FILE, bytes: Buffer.concat([code, checksum]) }
}
