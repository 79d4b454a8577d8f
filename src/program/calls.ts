import { existsSync } from 'node:fs'
import { isAbsolute, join, relative } from 'node:path'
import { PROGRAM_FOLDER } from '../version.js'
import type { CallOf } from './command.js'

type Platform = NodeJS.Platform

/** A clone has the tools of the build; what `npm pack` made has not. */
const isClone = existsSync(join(PROGRAM_FOLDER, 'tools'))

/** How a command is typed: as a script of the clone, or as the installed program. */
export const callOf: CallOf = (command, args) => {
  if (!isClone) return ['wheel-to-dial', command, ...(args === undefined ? [] : [args])].join(' ')
  const script = command === 'serve' ? 'npm start' : `npm run ${command}`
  return args === undefined ? script : `${script} -- ${args}`
}

/** The file of an example as it is named from the current folder. */
export function exampleFile(name: string): string {
  const file = join(PROGRAM_FOLDER, 'examples', name)
  const near = relative(process.cwd(), file)
  return near.startsWith('..') || isAbsolute(near) ? file : near
}

const PLAIN = /^[\w%+=:,./\\-]+$/

/**
 * A word of a command, quoted where the shell would read it otherwise: in single quotes for a POSIX shell, in double ones for PowerShell and
 * cmd. PowerShell reads an @ without quotes as a variable.
 */
function quoted(word: string, platform: Platform): string {
  if (PLAIN.test(word)) return word
  if (platform === 'win32') return `"${word}"`
  return /^@[\w%+=:,./-]+$/.test(word) ? word : `'${word.replaceAll("'", "'\\''")}'`
}

interface CurlOptions {
  readonly headers?: ReadonlyArray<string>
  /** File of the body. */
  readonly file?: string
  readonly platform?: Platform
}

/** A request as a call of curl, to be pasted into the shell of the platform. In PowerShell `curl` may mean another program than curl.exe. */
export function curl(
  url: string,
  { headers = [], file, platform = process.platform }: CurlOptions = {},
): string {
  const args = [
    url,
    ...headers.flatMap((line) => ['-H', line]),
    ...(file === undefined ? [] : ['-d', `@${file}`]),
  ]
  const program = platform === 'win32' ? 'curl.exe' : 'curl'
  return [program, '-s', ...args.map((word) => quoted(word, platform))].join(' ')
}

/** A command with a setting, to be pasted into the shell of the platform: a POSIX shell or PowerShell. */
export function withSetting(
  name: string,
  value: string,
  command: string,
  platform: Platform = process.platform,
): string {
  return platform === 'win32'
    ? `$env:${name} = "${value}"; ${command}`
    : `${name}=${quoted(value, platform)} ${command}`
}
