// Starts the service: as several processes, each of which runs this file again, or in this one. It runs from its bundle, with the code cache that V8 made of the bundle during the build: compiling three megabytes
// again would take a third of a start. A code cache of another bundle or version of Node, or with a wrong checksum, is not used.
import cluster from 'node:cluster'
import { readFileSync } from 'node:fs'
import { createRequire, Module } from 'node:module'
import { dirname, join } from 'node:path'
import { Script } from 'node:vm'
import { crc32 } from 'node:zlib'
import { processCount } from './processes/process-count.js'
import { supervise } from './processes/supervisor.js'

const FILE = join(import.meta.dirname, 'service.cjs')
const CODE_FILE = join(import.meta.dirname, 'service.code')
const CHECKSUM_BYTES = 4

/** Checksum over code cache, bundle and version of Node. V8 checks only the length of the source, and crashes on a damaged cache. */
function checksumOf(source: Buffer, code: Buffer): number {
  return crc32(`${process.version} ${process.arch}`, crc32(source, crc32(code)))
}

/** The code cache, unless it is missing, damaged or of another bundle. */
function codeCache(source: Buffer): Buffer | undefined {
  try {
    const file = readFileSync(CODE_FILE)
    const code = file.subarray(0, -CHECKSUM_BYTES)
    return file.readUInt32LE(code.length) === checksumOf(source, code) ? code : undefined
  } catch {
    return undefined
  }
}

/** Runs the service in this process. */
function load() {
  const source = readFileSync(FILE)
  const cachedData = codeCache(source)
  const script = new Script(Module.wrap(source.toString()), {
    filename: FILE,
    ...(cachedData === undefined ? {} : { cachedData }),
  })
  const service = { exports: {} as typeof import('./server.js') }
  script.runInThisContext()(service.exports, createRequire(FILE), service, FILE, dirname(FILE))
  return { source, script, started: service.exports.started }
}

// A setting that is not valid is refused by the service itself.
const count = processCount(process.env) ?? 1
/** The service, unless this process supervises others that run it. */
const loaded = cluster.isPrimary && count > 1 ? undefined : load()

export const script = loaded?.script

/** Resolves once the service listens; in its own process, also once it has printed its address. */
export const started = loaded?.started ?? supervise(count)

/** The code cache of all functions that have run so far, to be written to a file. */
export function codeCacheFile(): { file: string; bytes: Buffer } {
  const { source, script } = loaded!
  const code = script.createCachedData()
  const checksum = Buffer.alloc(CHECKSUM_BYTES)
  checksum.writeUInt32LE(checksumOf(source, code))
  return { file: CODE_FILE, bytes: Buffer.concat([code, checksum]) }
}
